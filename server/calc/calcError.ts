export type CalcErrorCode = 'outOfRange' | 'notFinite' | 'missing' | 'unreadable' | 'mismatch' | 'notKnown';

/** Words as a sentence: a capital at its beginning, a full stop at its end. A rule of our own. */
export const asSentence = (words: string): string =>
  `${words.charAt(0).toUpperCase()}${words.slice(1)}${/[.!?]$/.test(words) ? '' : '.'}`;

/** Impossible input to a calculation. `field` is the name of the input; the caller turns it into a message beside that field. */
export class CalcError extends Error {
  readonly code: CalcErrorCode;
  readonly field: string;
  constructor(code: CalcErrorCode, field: string, message: string) {
    super(message);
    this.name = 'CalcError';
    this.code = code;
    this.field = field;
  }
  /** The message as a sentence of its own, for where it stands beside a field. */
  get sentence(): string {
    return asSentence(this.message);
  }
}

/** Demands a finite number in [min, max] (or above `min` when `exclusiveMin`); throws CalcError otherwise. A rule of our own. */
export function finiteIn(
  field: string,
  value: number,
  range: { min?: number; max?: number; exclusiveMin?: boolean } = {},
): number {
  if (typeof value !== 'number' || !Number.isFinite(value)) {
    throw new CalcError('notFinite', field, `${field} must be a number`);
  }
  const { min, max, exclusiveMin } = range;
  if (min !== undefined && (exclusiveMin ? value <= min : value < min)) {
    throw new CalcError('outOfRange', field, `${field} must be ${exclusiveMin ? 'more than' : 'at least'} ${min}`);
  }
  if (max !== undefined && value > max) {
    throw new CalcError('outOfRange', field, `${field} must be at most ${max}`);
  }
  return value;
}
