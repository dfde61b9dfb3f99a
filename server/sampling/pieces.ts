import type { KeptConditions, KeptLab } from '../calc/colour/reading.ts';
import type { SamplingPieceRow } from '../db/tables/sampling.ts';
import type { SamplingSheet } from './planSamples.ts';

/** A piece's colour; null until it has been read. */
export const colourOfPiece = ({
  l,
  a,
  b,
  illuminant,
  observer,
}: SamplingPieceRow): (KeptLab & KeptConditions) | null =>
  l === null || a === null || b === null || illuminant === null || observer === null
    ? null
    : { l, a, b, illuminant, observer };

/** 'F11 40 F61 60' */
export const blendName = (sheet: Pick<SamplingSheet, 'stocks'>, piece: Pick<SamplingPieceRow, 'sharesPpm'>): string => {
  const parts = sheet.stocks.flatMap((stock, i) => {
    const share = piece.sharesPpm[i] ?? 0;
    return share > 0 ? [{ code: stock.code, share }] : [];
  });
  return parts.length === 1
    ? (parts[0]?.code ?? '')
    : parts.map((p) => `${p.code} ${Number((p.share / 10_000).toFixed(1))}`).join(' · ');
};
