/** The largest number that anything may send: ten trillion, and an instant of the year 2286. A thousand tonnes in mg and ten billion in cents are
 *  a tenth of it. Beyond 2^53 (some 9 · 10^15) a number is no longer itself, and sums and products of what is let through stay below. */
export const LARGEST_NUMBER = 1e13;

const WORDS = 'At most 10 000 000 000 000.';

/** What is too large in what was sent, under its own path. Schemas that know better say less; this holds for those too that say nothing. */
export function numbersTooLarge(sent: unknown, path = ''): Record<string, string> {
  if (typeof sent === 'number') return Math.abs(sent) > LARGEST_NUMBER ? { [path]: WORDS } : {};
  if (typeof sent !== 'object' || sent === null) return {};
  const found: Record<string, string> = {};
  for (const [key, value] of Object.entries(sent))
    Object.assign(found, numbersTooLarge(value, path === '' ? key : `${path}.${key}`));
  return found;
}
