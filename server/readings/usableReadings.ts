import { READING_SOURCES } from '../calc/colour/reading.ts';
import type { ColourReadingRow } from '../db/tables/swatches.ts';

/** The readings that count for the goods: those from the surest source, and of these the newest taken together (the colours of
 *  variegated goods are read at one instant). Largest area first; readings without a share count alike. */
export function usableReadings<R extends Pick<ColourReadingRow, 'id' | 'source' | 'readAt' | 'areaSharePpm'>>(
  readings: readonly R[],
): R[] {
  const source = READING_SOURCES.find((s) => readings.some((r) => r.source === s));
  const ofSource = readings.filter((r) => r.source === source);
  const newestAt = Math.max(...ofSource.map((r) => r.readAt));
  return ofSource
    .filter((r) => r.readAt === newestAt)
    .sort((x, y) => (y.areaSharePpm ?? 0) - (x.areaSharePpm ?? 0) || x.id - y.id);
}
