import { hash } from 'node:crypto';
import { Refusal } from '../errors.ts';

/** A client id means one content. A sender that may retry makes an id for what it sends; sent again with the same content it is the
 *  same thing, and with other content it is a conflict: nothing is dropped in silence. What was sent is kept beside the entry as a
 *  digest. */

/** SHA-256 of what was sent, whatever the order of its fields: `deed` tells a note from an outcome. Left out are the id itself and the
 *  fields that `derived` names because the server found them out, such as the time of an entry that was sent without one. */
export const contentDigest = (deed: string, sent: object): string => {
  const { derived } = sent as { derived?: readonly string[] };
  const leftOut = new Set(['clientId', 'derived', ...(derived ?? [])]);
  const said = Object.fromEntries(Object.entries(sent).filter(([name]) => !leftOut.has(name)));
  return hash('sha256', `${deed}\n${JSON.stringify(inOrder(said))}`);
};

const inOrder = (value: unknown): unknown => {
  if (Array.isArray(value)) return value.map(inOrder);
  if (typeof value !== 'object' || value === null) return value;
  const entries = Object.entries(value).filter(([, v]) => v !== undefined);
  return Object.fromEntries(entries.sort(([x], [y]) => (x < y ? -1 : 1)).map(([name, v]) => [name, inOrder(v)]));
};

/** Refuses an id that names something else already. Entries of earlier versions have no digest: `looksSame` compares what of them
 *  can be compared. Throws Refusal idReused. */
export function demandSameContent(known: { contentDigest: string | null }, digest: string, looksSame: boolean): void {
  if (known.contentDigest === null ? looksSame : known.contentDigest === digest) return;
  throw new Refusal(
    'idReused',
    'That client id names something else already, which stands as it was recorded. Nothing of this was recorded: send it with an id of its own.',
  );
}
