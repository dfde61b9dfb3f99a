import { CalcError } from '../../server/calc/calcError.ts';
import { Refusal } from '../../server/errors.ts';

/** What a rule says when it refuses: its code with the message beside each field, or the message as a whole. */
export function refused(deed: () => unknown): { code: string; said: string | Record<string, string> } | 'let through' {
  try {
    deed();
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    const { code, fields, message } = error;
    return { code, said: Object.keys(fields).length > 0 ? fields : message };
  }
  return 'let through';
}

/** What a calculation says to what it cannot work with, or 'let through'. */
export const calcError = (deed: () => unknown): unknown => {
  try {
    deed();
  } catch (error) {
    if (error instanceof CalcError) return { field: error.field, words: error.message };
    throw error;
  }
  return 'let through';
};
