import { CalcError } from '../calc/calcError.ts';
import { conditionsOf, keptConditions, keptLab } from '../calc/colour/reading.ts';
import { typedColour } from '../calc/colour/typedColour.ts';
import type { Db } from '../db/open.ts';
import { demandNone, type FieldErrors, invalid, Refusal } from '../errors.ts';
import { samplingSheet } from './planSamples.ts';
import { setPieceColour } from './queries.ts';
import type { ResultInput, TypedResultsInput } from './schemas.ts';

/** What came out of a piece, with the words that it was typed in. */
export type TypedResult = ResultInput & { asTyped: string };

/** Keeps results that were typed or measured. Refuses a piece that is a swatch already. */
export function keepResults(db: Db, planId: number, results: readonly TypedResult[]): void {
  db.transaction((tx) => {
    const { pieces } = samplingSheet(tx, planId);
    const byOrdinal = new Map(pieces.map((p) => [p.ordinal, p]));
    for (const { ordinal, ...colour } of results) {
      const piece = byOrdinal.get(ordinal);
      if (!piece) throw invalid({ ordinal: `There is no piece ${ordinal} in this plan.` });
      if (piece.swatchId !== null) throw new Refusal('conflict', `Piece ${ordinal} is a swatch already.`);
      setPieceColour(tx, piece.id, { ...colour, uncertaintyMilli: null, photoId: null });
    }
  });
}

/** Colours typed beside the numbers of their pieces. Refuses with messages beside `colour.N`. */
export function typedResults({ rows, source, ...stated }: TypedResultsInput): TypedResult[] {
  if (rows.length === 0) throw invalid({ '': 'Type at least one colour.' });
  const errors: FieldErrors = {};
  const results = rows.flatMap(({ colour, row }): TypedResult[] => {
    try {
      const { lab, conditions, hex } = typedColour({
        text: colour,
        conditions: conditionsOf(stated),
        field: `colour.${row}`,
      });
      return [
        {
          ordinal: row,
          ...keptLab(lab),
          ...keptConditions(conditions),
          // A colour code is no instrument's reading, whatever the rest of the form says.
          source: hex === null ? source : 'typed',
          asTyped: colour,
        },
      ];
    } catch (error) {
      if (!(error instanceof CalcError)) throw error;
      errors[error.field] = `${error.message.charAt(0).toUpperCase()}${error.message.slice(1)}.`;
      return [];
    }
  });
  demandNone(errors);
  return results;
}
