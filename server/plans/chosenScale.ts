import type { ScaleRow } from '../db/tables/studio.ts';

/** The scale for a mass: the default one, or a coarser one whose capacity it is within. */
export function scaleFor(scales: readonly ScaleRow[], massMg: number): ScaleRow | undefined {
  const holds = (s: ScaleRow): boolean => s.capacityMg === null || s.capacityMg >= massMg;
  return scales.find(holds) ?? [...scales].sort((a, b) => b.readabilityMg - a.readabilityMg)[0];
}
