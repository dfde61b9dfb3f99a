import type { Db } from '../db/open.ts';
import { ready } from '../db/ready.ts';
import type { ItemInStock } from '../stock/queries.ts';
import { itemsWrittenOf, type NewestOfStock, newestOfStock } from './queries.ts';
import { type MaterialProof, provenAt } from './stockProof.ts';

/* After thirty years a material's history takes a tenth of a second to go through, and all of them some seconds, while a lot touches a
   few of them. So what was proved of a material is kept for as long as nothing was written about its containers: it is kept by the
   newest entry of the ledger, the newest cost line and the newest money that it was made from, which are never rewritten. */

interface Kept {
  seen: NewestOfStock;
  proofs: Map<string, { proof: MaterialProof; lastAt: number }>;
}

/** Of each connection its own. */
const keptOf = ready((): { now: Kept | undefined } => ({ now: undefined }));

const keyOf = ({ kind, itemId }: Pick<ItemInStock, 'kind' | 'itemId'>): string => `${kind}:${itemId}`;

/** What still holds; what was written since then takes its materials out. */
function standing(db: Db): Kept {
  const holder = keptOf(db);
  const seen = newestOfStock(db);
  const before = holder.now;
  const proofs =
    before && before.seen.valuations === seen.valuations && before.seen.costing === seen.costing
      ? before.proofs
      : new Map<string, { proof: MaterialProof; lastAt: number }>();
  if (before) for (const item of itemsWrittenOf(db, before.seen)) proofs.delete(keyOf(item));
  holder.now = { seen, proofs };
  return holder.now;
}

/** A material at an instant: as it was proved before, where nothing of it happened after that instant and nothing was written since. */
export function keptProof(db: Db, item: ItemInStock, until: number): MaterialProof {
  const { proofs } = standing(db);
  const key = keyOf(item);
  const known = proofs.get(key);
  if (known && until >= known.lastAt) return { ...known.proof, ...item };
  if (known) return provenAt(db, item, until).proof;
  const whole = provenAt(db, item, Number.MAX_SAFE_INTEGER);
  proofs.set(key, whole);
  return until >= whole.lastAt ? whole.proof : provenAt(db, item, until).proof;
}
