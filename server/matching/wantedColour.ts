import { conditionsOf, D65_2, labOf } from '../calc/colour/reading.ts';
import { typedColour } from '../calc/colour/typedColour.ts';
import type { Db } from '../db/open.ts';
import { found, invalid } from '../errors.ts';
import { lotById } from '../lots/queries.ts';
import { type Standard, standardOf } from '../near/standard.ts';
import { swatchById } from '../swatches/queries.ts';
import type { Goods } from './predictions.ts';
import type { ProposalsAsked } from './proposals.ts';
import { sampledGoods } from './queries.ts';
import type { TargetInput } from './schemas.ts';

const NOTHING_TYPED = { illuminant: 'D65', observer: '2', band: 0 } as const;

/** The wanted colour as the API says it. */
export function targetOf(db: Db, body: TargetInput): ProposalsAsked['target'] {
  if ('l' in body) return { lab: labOf(body), conditions: conditionsOf(body), swatchId: null };
  if ('hex' in body) {
    const { lab, conditions } = typedColour({ text: body.hex, conditions: D65_2, field: 'hex' });
    return { lab, conditions, swatchId: null };
  }
  const standard = standardOf(db, { ...NOTHING_TYPED, ...body });
  if (!standard) throw invalid({ target: 'Say which colour is wanted.' });
  return wantedOf(standard);
}

export const wantedOf = ({ lab, conditions, swatchId, band }: Standard): ProposalsAsked['target'] => ({
  lab,
  conditions,
  // A curve belongs to even goods: it says nothing about one band of variegated goods.
  swatchId: band === 0 ? swatchId : null,
});

/** The goods that a page starts with: of the swatch or lot whose colour is wanted, else those with most swatches. */
export function goodsFor(db: Db, from: { swatchId?: number | undefined; lotId?: number | undefined }): Goods | null {
  if (from.swatchId !== undefined) return found(swatchById(db, from.swatchId), 'swatch');
  if (from.lotId !== undefined) return found(lotById(db, from.lotId), 'lot');
  return sampledGoods(db)[0] ?? null;
}
