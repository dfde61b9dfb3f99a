import { D65_2 } from '../calc/colour/reading.ts';
import { srgbFromLab } from '../calc/colour/spaces.ts';
import { typedColour } from '../calc/colour/typedColour.ts';
import type { Db } from '../db/open.ts';
import { invalid, notFound } from '../errors.ts';
import { lotById } from '../lots/queries.ts';
import type { StandardInput } from '../near/schemas.ts';
import { type Standard, standardOf } from '../near/standard.ts';
import { swatchById } from '../swatches/queries.ts';
import type { Goods } from './predictions.ts';
import type { ProposalsAsked } from './proposals.ts';
import { sampledGoods } from './queries.ts';
import type { TargetInput } from './schemas.ts';

const NOTHING_TYPED = { illuminant: 'D65', observer: '2', band: 0 } as const;

/** The wanted colour as the API says it. */
export function targetOf(db: Db, body: TargetInput): ProposalsAsked['target'] {
  if ('l' in body) {
    const { l, a, b, illuminant, observer } = body;
    return { lab: { L: l, a, b }, conditions: { illuminant, observerDeg: observer === '2' ? 2 : 10 }, swatchId: null };
  }
  if ('hex' in body) {
    const { lab, conditions } = typedColour({ text: body.hex, conditions: D65_2, field: 'hex' });
    return { lab, conditions, swatchId: null };
  }
  const input = { ...NOTHING_TYPED, ...body } as StandardInput;
  const standard = standardOf(db, input);
  if (!standard) throw invalid({ target: 'Say which colour is wanted.' });
  return wantedOf(standard);
}

export const wantedOf = ({ lab, conditions, swatchId, band }: Standard): ProposalsAsked['target'] => ({
  lab,
  conditions,
  // A curve is of even goods: of a band of variegated goods it says nothing.
  swatchId: band === 0 ? swatchId : null,
});

/** The goods that a page starts with: of the swatch or lot whose colour is wanted, else those with most swatches. */
export function goodsFor(db: Db, from: { swatchId?: number | undefined; lotId?: number | undefined }): Goods | null {
  if (from.swatchId !== undefined) {
    const swatch = swatchById(db, from.swatchId);
    if (!swatch) throw notFound('swatch');
    return swatch;
  }
  if (from.lotId !== undefined) {
    const lot = lotById(db, from.lotId);
    if (!lot) throw notFound('lot');
    return lot;
  }
  return sampledGoods(db)[0] ?? null;
}

export const hexOf = (target: ProposalsAsked['target']): string => srgbFromLab(target).hex;
