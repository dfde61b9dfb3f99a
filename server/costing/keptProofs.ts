import type { Db } from '../db/open.ts';
import type { ItemInStock } from '../stock/queries.ts';
import { besideConnection, itemsWrittenOf, type NewestOfStock, newestOfStock } from './queries.ts';

/* After thirty years a material's history takes a tenth of a second to go through, and all of them some seconds, while a lot touches a
   few of them. So what was proved of a material is kept for as long as nothing was written about its containers: it is kept by the
   newest entry of the ledger, the newest cost line and the newest money that it was made from, which are never rewritten. */

/** What was found out about a material, and when the last of it happened. */
interface Proven<Proof> {
  proof: Proof;
  lastAt: number;
}

const keyOf = ({ kind, itemId }: Pick<ItemInStock, 'kind' | 'itemId'>): string => `${kind}:${itemId}`;

/** A material at an instant: as it was proved before, where nothing of it happened after that instant and nothing was written since. */
export function keepingProofs<Proof extends ItemInStock>(
  prove: (db: Db, item: ItemInStock, until: number) => Proven<Proof>,
): (db: Db, item: ItemInStock, until: number) => Proof {
  const keptOf = besideConnection((): { seen: NewestOfStock | null; proofs: Map<string, Proven<Proof>> } => ({
    seen: null,
    proofs: new Map(),
  }));
  return (db, item, until) => {
    const kept = keptOf(db);
    const seen = newestOfStock(db);
    const { proofs } = kept;
    if (kept.seen?.valuations !== seen.valuations || kept.seen.costing !== seen.costing) proofs.clear();
    else for (const written of itemsWrittenOf(db, kept.seen)) proofs.delete(keyOf(written));
    kept.seen = seen;
    const key = keyOf(item);
    const whole = proofs.get(key) ?? prove(db, item, Number.MAX_SAFE_INTEGER);
    proofs.set(key, whole);
    return until >= whole.lastAt ? { ...whole.proof, ...item } : prove(db, item, until).proof;
  };
}
