import { countsFor } from '../../calc/countsFor.ts';
import type { BenchLine } from '../benchState.ts';
import type { coloursOf, WeighingOfLot } from '../queries.ts';
import type { LineShown } from '../schemas.ts';

/** A reading with the digits that it had. */
export const readingText = (massMg: number | null, volumeUl: number | null): string =>
  massMg !== null ? `${massMg / 1000} g` : `${(volumeUl ?? 0) / 1000} mL`;

const weighedText = (w: WeighingOfLot): string => readingText(w.massMg, w.volumeUl);

/** How a line or a container says what it is, beside the name: '' of powder at its usual strength. */
export const formWords = (concPpm: number | null, unit: 'mg' | 'ul', planned: BenchLine['component']): string =>
  concPpm !== null
    ? `, ${concPpm / 10_000} % solution`
    : planned.concPpm !== null
      ? `, ${unit === 'mg' ? 'powder' : 'as bought'}`
      : '';

/** A line as pages show it. */
export function lineShown(
  line: BenchLine,
  colours: ReturnType<typeof coloursOf>,
  containers: LineShown['containers'],
): LineShown {
  const { component, verdict } = line;
  const colour = colours.find((c) => c.id === component.lotColourId);
  return {
    componentId: component.id,
    code: component.code,
    name: component.name,
    colourOrdinal: colour?.ordinal ?? null,
    colourName: colour?.recipeName ?? null,
    vessel: component.vessel,
    unit: line.unit,
    form: formWords(component.concPpm, line.unit, component),
    concPct: component.concPpm === null ? null : component.concPpm / 10_000,
    planned: line.planned,
    target: line.target,
    step: line.step,
    tolerance: line.tolerance,
    actual: line.actual,
    corrected: line.corrected ?? null,
    difference: verdict?.difference ?? null,
    differencePct: verdict?.differencePct ?? null,
    state: line.state,
    containers,
    weighings: line.weighings.map((w) => ({
      entryId: w.logEntryId,
      at: w.at,
      amount: weighedText(w),
      containerId: w.stockLotId,
      container: w.stockLotCode,
      recalled: w.stockLotRecalledAt !== null,
      person: w.personName,
      state: w.voided ? 'voided' : w.discarded ? 'discarded' : 'counts',
      counts: countsFor(component, w),
    })),
  };
}
