import { ILLUMINANTS, OBSERVERS } from '../../server/calc/colour/reading.ts';
import type { Option } from './field.ts';

/** The illuminants and observers that a reading may be stated under. */
export const illuminantOptions: readonly Option[] = ILLUMINANTS.map((value) => ({ value, label: value }));
export const observerOptions: readonly Option[] = OBSERVERS.map((value) => ({ value, label: `${value}°` }));
