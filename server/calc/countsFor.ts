/** What a reading counts for in its line, in the line's unit (mg of powder, µL of solution or liquid), not rounded: the strength
 *  and the concentration of the container that it came from turned into those that the line was planned with.
 *    mass in a mass line:       m · s / s₀
 *    solution in a mass line:   V · c · s / s₀            1 % w/v is 10 g/L, so mg = µL · c(ppm) / 10⁶
 *    mass in a solution line:   m / c₀ · s / s₀
 *  line: c₀ its concentration, ppm w/v, null of powder and of a liquid as bought; s₀ its strength, ppm.
 *  reading: either massMg or volumeUl; the container's strength s and concentration c, ppm. Common practice. */
export function countsFor(
  line: { plannedMassMg: number | null; concPpm: number | null; strengthPpm: number },
  reading: {
    massMg: number | null;
    volumeUl: number | null;
    stockLotStrengthPpm: number;
    stockLotConcPpm: number | null;
  },
): number {
  const strength = reading.stockLotStrengthPpm / line.strengthPpm;
  const lineInMass = line.plannedMassMg !== null;
  if (reading.massMg !== null) {
    const mg = reading.massMg * strength;
    return lineInMass ? mg : line.concPpm === null ? mg : (mg * 1e6) / line.concPpm;
  }
  const ul = reading.volumeUl ?? 0;
  if (reading.stockLotConcPpm === null) return ul * strength;
  const mg = ((ul * reading.stockLotConcPpm) / 1e6) * strength;
  return lineInMass ? mg : line.concPpm === null ? ul * strength : (mg * 1e6) / line.concPpm;
}
