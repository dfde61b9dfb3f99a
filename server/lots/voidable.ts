import type { LogEntryRow } from '../db/tables/lots.ts';

/** Kinds of entries that can be voided with a reason; the others tell what the record did by itself, or close the lot. */
const VOIDABLE: readonly LogEntryRow['kind'][] = [
  'note',
  'deviation',
  'photo',
  'temperature',
  'field',
  'placement',
  'voice',
  'weighing',
  'adjustment',
  'stepStart',
  'stepEnd',
];
export const isVoidable = (kind: LogEntryRow['kind']): boolean => VOIDABLE.includes(kind);
