import type { Db } from '../db/open.ts';
import type { ColourReadingRow } from '../db/tables/swatches.ts';
import { hexOfReading, readingText } from '../readings/display.ts';
import { readingsOf, standingReadings } from '../readings/queries.ts';
import { usableReadings } from '../readings/usableReadings.ts';
import type { coloursOf, linesServed } from './queries.ts';
import { shadeCheck } from './shadeCheck.ts';

/** The readings of a lot, each held against the swatch that it follows: against what was known of that when the lot was read. */
export function readingsJudged(
  db: Db,
  lotId: number,
  colours: ReturnType<typeof coloursOf>,
  served: ReturnType<typeof linesServed>,
) {
  const standardOf = colours.find((c) => c.swatchId !== null);
  const ofStandard =
    standardOf?.swatchId && colours.length === 1 ? readingsOf(db, { swatchId: standardOf.swatchId }) : [];
  const standing = usableReadings(ofStandard.filter((r) => r.withdrawnAt === null))[0];
  const wanted = served.find((l) => l.toleranceFormula !== null);
  const check = (standard: ColourReadingRow, sample: ColourReadingRow): string =>
    shadeCheck({
      standard,
      standardName: `swatch ${standardOf?.swatchCode}`,
      sample,
      formula: wanted?.toleranceFormula ?? null,
      limitMilli: wanted?.toleranceMilli ?? null,
    });
  return standingReadings(db, { lotId }).map((r) => {
    // Judged against what was known of the standard when the lot was read: a card that is read anew judges no lot again.
    const [then] = usableReadings(
      ofStandard.filter((s) => s.readAt <= r.readAt && (s.withdrawnAt === null || s.withdrawnAt > r.readAt)),
    );
    const judgedBy = then ?? standing;
    const since =
      judgedBy === undefined || judgedBy.id === standing?.id
        ? ''
        : standing
          ? `. Its card has been read anew since; by that, ${check(standing, r)}`
          : '. That reading of its card has been withdrawn since';
    return {
      hex: hexOfReading(r).hex,
      text: readingText(r),
      difference: judgedBy ? `${check(judgedBy, r)}${since}` : null,
    };
  });
}
