import type { Bench } from './bench.ts';

/** The depth that a colour of a lot was really dyed at, ppm: the plan's, moved by what was weighed against what was planned
 *  and by goods that were added. The plan's own depth as long as a dye of the colour has no reading. */
export function actualDepthPpm(bench: Bench, colour: { id: number; depthPpm: number }): number {
  const dyes = bench.lines.filter((l) => l.component.lotColourId === colour.id && l.component.kind === 'dye');
  if (dyes.length === 0 || dyes.some((l) => l.actual === undefined)) return colour.depthPpm;
  // µL of solution count by the powder in them.
  const powder = (l: Bench['lines'][number], amount: number): number =>
    l.component.concPpm === null ? amount : (amount * l.component.concPpm) / 1e6;
  const planned = dyes.reduce((sum, l) => sum + powder(l, l.planned), 0);
  const actual = dyes.reduce((sum, l) => sum + powder(l, l.actual ?? 0), 0);
  if (planned === 0) return colour.depthPpm;
  return Math.max(1, Math.round(colour.depthPpm * (actual / planned) * (bench.lot.dryMassMg / bench.dryMassMg)));
}
