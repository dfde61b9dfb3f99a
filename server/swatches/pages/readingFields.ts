import type { Typed } from '../../../views/kit/field.ts';
import { demandNone } from '../../errors.ts';
import { typedRows } from '../../http/forms.ts';
import type { ReadingInput } from '../../readings/schemas.ts';
import { typedReadings } from '../../readings/schemas.ts';

/** How the fields of a reading stand before anything is typed. */
export const READING_DEFAULTS = { readingSource: 'instrument', illuminant: 'D65', observer: '10' };

/** The typed text with its rows of colours gathered. */
export const withReadings = (typed: Typed) => ({ ...typed, readings: typedRows(typed, ['colour', 'share']) });

/** The colours that a form says; refuses with messages beside their rows. */
export function readingsOfForm(form: Parameters<typeof typedReadings>[0]): ReadingInput[] {
  const { inputs, errors } = typedReadings(form);
  demandNone(errors);
  return inputs;
}
