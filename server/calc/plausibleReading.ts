import { CalcError, finiteIn } from './calcError.ts';
import { massMgOf, volumeUlOf } from './quantity.ts';

/** Why a reading is hard to believe. */
export type ReadingDoubt =
  /** More than the container holds by the books. */
  | 'beyondContainer'
  /** With it the cup would hold a few times what the line wants. */
  | 'beyondLine'
  /** The digits are those of what is wanted, the point is not. */
  | 'decimalSlip';

/** A reading as it was typed, beside what it could be. All in the container's own unit, mg or µL. */
export interface ReadingInQuestion {
  readonly amount: number;
  /** What the line wants altogether, and what is in its cup already. */
  readonly target: number;
  readonly actual: number;
  /** What the container holds by the books; it may be less than nothing. */
  readonly onHand: number;
  /** What the scale or measure can tell apart. */
  readonly step: number;
}

/** A stock card is off by the dust on the spoon and the last stock-take: a jar gives a little more than its card says. */
const BOOKS_OFF = 0.05;
/** An over-weighed cup has its ways out, up to this; beyond it nobody reads a scale, but presses a wrong key. */
const FEW_TIMES = 3;
/** Same digits: within the error of a weighing at the bench. */
const SAME_DIGITS = 0.02;

/** Why a reading should be asked about once before it is booked; none when it is one to expect.
 *  beyondContainer:  m > 1.05 · max(0, on hand) + step
 *  beyondLine:       m + in the cup > 3 · target
 *  decimalSlip:      | m · 10ᵏ / wanted − 1 | ≤ 0.02 for k = ±1, ±2, ±3, where wanted = target − in the cup > 0
 *  Figures in mg or µL of the container. Throws CalcError. Common practice: the usual slips of a hand-typed reading are the point, the
 *  unit and the wrong line, which are all off by a factor, while an honest misweighing is off by a few per cent. */
export function readingDoubts(reading: ReadingInQuestion): ReadingDoubt[] {
  const amount = finiteIn('amount', reading.amount, { min: 0, exclusiveMin: true });
  const step = finiteIn('step', reading.step, { min: 0 });
  const { target, actual, onHand } = reading;
  const doubts: ReadingDoubt[] = [];
  if (amount > Math.max(0, onHand) * (1 + BOOKS_OFF) + step) doubts.push('beyondContainer');
  if (target > 0 && actual + amount > FEW_TIMES * target + step) doubts.push('beyondLine');
  const wanted = target - actual;
  // A tenth of almost nothing is a reading like any other.
  if (wanted > 10 * step && [-3, -2, -1, 1, 2, 3].some((k) => Math.abs((amount * 10 ** k) / wanted - 1) <= SAME_DIGITS))
    doubts.push('decimalSlip');
  return doubts;
}

/** The question about a reading, in words: one sentence, and what to do. A rule of our own. */
export function doubtWords(input: {
  doubts: readonly ReadingDoubt[];
  reading: ReadingInQuestion;
  unit: 'mg' | 'ul';
  name: string;
  container: string;
}): string {
  const { doubts, reading, unit } = input;
  const text = (value: number): string => {
    const digits = Math.max(0, 3 - Math.floor(Math.log10(Math.max(1, reading.step))));
    return `${(value / 1000).toFixed(digits)} ${unit === 'mg' ? 'g' : 'mL'}`;
  };
  const typed = `${Number((reading.amount / 1000).toFixed(3))} ${unit === 'mg' ? 'g' : 'mL'}`;
  const wanted = Math.max(0, reading.target - reading.actual);
  const why: string[] = [];
  if (doubts.includes('beyondContainer'))
    why.push(
      reading.onHand > 0
        ? `${input.container} holds ${text(reading.onHand)} by its card`
        : `${input.container} is empty by its card`,
    );
  if (doubts.includes('beyondLine') || doubts.includes('decimalSlip')) why.push(`${input.name} wants ${text(wanted)}`);
  const point = doubts.includes('decimalSlip') ? ' Is the point in the right place?' : '';
  return `${typed}? ${why.join(', and ')}.${point} If it is right, confirm it.`;
}

/** A typed reading in the unit of its container: mg of what is weighed, µL of what is measured. A bare number is in g or mL; a unit typed
 *  with it must fit the container. Throws CalcError('…', 'amount'). A rule of our own. */
export function readingAmount(input: { text: string; unit: 'mg' | 'ul'; container: string }): number {
  const { text, unit, container } = input;
  const as = {
    mg: () => massMgOf({ text, defaultUnit: 'g', field: 'amount' }),
    ul: () => volumeUlOf({ text, defaultUnit: 'mL', volumeSystem: 'US', field: 'amount' }),
  };
  try {
    return as[unit]();
  } catch (error) {
    let isOther = false;
    try {
      as[unit === 'mg' ? 'ul' : 'mg']();
      isOther = true;
    } catch {
      // Neither a mass nor a volume: the first message says what can be read.
    }
    if (!isOther) throw error;
    throw new CalcError(
      'outOfRange',
      'amount',
      unit === 'mg'
        ? `“${text.trim()}” is a volume, and ${container} is weighed: type grams, or choose the container that it was measured from.`
        : `“${text.trim()}” is a mass, and ${container} is measured by volume: type millilitres, or choose the container that it was weighed from.`,
    );
  }
}

/** Whether a unit was typed with the number. A rule of our own. */
export const hasUnit = (text: string): boolean => /[a-zµμ]/i.test(text);
