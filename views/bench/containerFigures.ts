import type { ContainerShown, LineShown } from '../../server/lots/schemas.ts';
import { amount } from '../kit/show.ts';

/** What the screen asks for when a container is chosen: the container decides unit, target and heading. This file
 *  runs on both sides, as waysOut.ts does: the server renders the bench with it, and the bench shows it anew when
 *  another container is tapped. */

export type ContainerFigures = Pick<ContainerShown, 'unit' | 'counts' | 'step' | 'form'>;
export type LineFigures = Pick<LineShown, 'unit' | 'target' | 'step' | 'actual' | 'form'>;

/** What stands on the screen for a line and the container chosen for it; null where none is: then it is the plan's. */
export function askedFor(
  line: LineFigures,
  container: ContainerFigures | null,
): {
  form: string;
  target: string;
  /** What of the plan it stands for, where the container is of another kind. */
  instead: string;
  unit: string;
  /** What the screen asks for, which travels with the reading: unit and what one of it counts for. */
  measure: string;
} {
  const c = container ?? { ...line, counts: 1, form: line.form };
  const isOther = c.unit !== line.unit || c.counts !== 1;
  const planned = amount(line.unit, line.target, line.step);
  // From another container the rest is asked for, since what is in the cup was measured otherwise.
  const wanted = isOther ? Math.max(0, line.target - (line.actual ?? 0)) : line.target;
  const rest = amount(line.unit, wanted, line.step);
  return {
    form: c.form,
    target: amount(c.unit, wanted / c.counts, c.step),
    instead: isOther
      ? `in place of ${line.actual === undefined ? planned : `the ${rest} still wanted`}${line.form.replace(
          /^, /,
          ' of ',
        )}`
      : '',
    unit: c.unit === 'mg' ? 'g' : 'mL',
    measure: measureOf(c),
  };
}

export const measureOf = (c: Pick<ContainerFigures, 'unit' | 'counts'>): string =>
  `${c.unit}:${Number(c.counts.toPrecision(9))}`;
