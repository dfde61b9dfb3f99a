import type { Option } from '../kit/field.ts';

/** What a dye scale may read to. */
export const readabilityOptions: readonly Option[] = [
  { value: '1000', label: '1 g' },
  { value: '100', label: '0.1 g' },
  { value: '10', label: '0.01 g' },
  { value: '1', label: '0.001 g' },
];
