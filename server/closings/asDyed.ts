import { countsFor } from '../calc/countsFor.ts';
import { nearestInteger } from '../calc/rounding.ts';
import type { Db } from '../db/open.ts';
import {
  type ComponentDyed,
  type CostedMaterial,
  coloursDyed,
  componentsOfLots,
  correctedMaterials,
  type ReadingDyed,
  readingsOfLots,
} from './queries.ts';

/** What a line of a weigh-up came to, in its own unit and strength: mg, or µL of solution or liquid. */
export interface LineDyed {
  component: ComponentDyed;
  /** By the scale; undefined when nothing was weighed. */
  weighed: number | undefined;
  /** By the books, where what was weighed was corrected after the closing, or a forgotten amount was added; undefined elsewhere. */
  corrected: number | undefined;
}

/** A colour of a lot: as planned, by what was weighed, and by what the books say since a correction. Depths in ppm. */
export interface DepthDyed {
  lotId: number;
  lotColourId: number;
  revisionId: number;
  plannedPpm: number;
  weighedPpm: number;
  /** undefined where nothing of its dyes was corrected. */
  correctedPpm: number | undefined;
  /** What is to be shown and worked on with: as corrected, else as weighed. */
  dyedPpm: number;
}

/** The lines of lots with what was weighed and what was corrected since. A correction speaks of a material and a container; where
 *  several lines took from it, it is shared out by what each took, else by what each was planned to take. Common practice. */
export function linesDyed(db: Db, lotIds: readonly number[]): LineDyed[] {
  const readings = groupedBy(readingsOfLots(db, lotIds), (r) => r.componentId);
  const lines = componentsOfLots(db, lotIds).map((component): LineDyed & { exact: number; own: ReadingDyed[] } => {
    const own = readings.get(component.componentId) ?? [];
    const exact = own.reduce((sum, r) => sum + countsFor(component, r), 0);
    const weighed = own.length === 0 ? undefined : nearestInteger({ value: exact, field: 'actual' });
    return { component, weighed, corrected: undefined, exact, own };
  });
  const moved = new Map<(typeof lines)[number], number>();
  for (const material of correctedMaterials(db, lotIds)) {
    const of = lines.filter(
      ({ component: c }) =>
        c.lotId === material.lotId && c.dyeId === material.dyeId && c.auxiliaryId === material.auxiliaryId,
    );
    const taken = of.map(({ own }) =>
      own
        .filter((r) => r.stockLotId === material.stockLotId)
        .reduce((sum, r) => sum + (r.massMg ?? r.volumeUl ?? 0), 0),
    );
    const difference = material.quantity - taken.reduce((sum, t) => sum + t, 0);
    const keys = [
      taken,
      of.map((l) => l.exact),
      of.map(({ component: c }) => c.plannedMassMg ?? c.plannedVolumeUl ?? 0),
    ];
    const weights = keys.find((k) => k.some((w) => w > 0)) ?? of.map(() => 1);
    const all = weights.reduce((sum, w) => sum + w, 0);
    of.forEach((line, i) => {
      const part = (difference * (weights[i] ?? 0)) / all;
      if (part !== 0) moved.set(line, (moved.get(line) ?? 0) + countsAs(line.component, material, part));
    });
  }
  return lines.map((line) => {
    const by = moved.get(line);
    const corrected =
      by === undefined ? undefined : Math.max(0, nearestInteger({ value: line.exact + by, field: 'actual' }));
    return { component: line.component, weighed: line.weighed, corrected };
  });
}

/** So much more, or less, of a container in the unit of a line. */
function countsAs(component: ComponentDyed, from: CostedMaterial, quantity: number): number {
  const counts = countsFor(component, {
    massMg: from.unit === 'mg' ? Math.abs(quantity) : null,
    volumeUl: from.unit === 'ul' ? Math.abs(quantity) : null,
    stockLotStrengthPpm: from.strengthPpm,
    stockLotConcPpm: from.concPpm,
  });
  return quantity < 0 ? -counts : counts;
}

/** The depth that each colour of lots was really dyed at: the plan's, moved by what was weighed against what was planned and by
 *  goods that were added. The plan's own depth as long as a dye of the colour has no reading.
 *    d = d₀ · Σ(dye really used) / Σ(dye planned) · W₀ / W       both sums as powder of the planned strength */
export function depthsDyed(db: Db, lotIds: readonly number[]): DepthDyed[] {
  const dyes = groupedBy(
    linesDyed(db, lotIds).filter((l) => l.component.dyeId !== null),
    (l) => l.component.lotColourId,
  );
  return coloursDyed(db, lotIds).map((colour): DepthDyed => {
    const own = dyes.get(colour.lotColourId) ?? [];
    const planned = own.reduce(
      (sum, { component: c }) => sum + powderOf(c, c.plannedMassMg ?? c.plannedVolumeUl ?? 0),
      0,
    );
    const depthBy = (amountOf: (l: LineDyed) => number | undefined): number => {
      if (planned === 0 || own.some((l) => amountOf(l) === undefined)) return colour.depthPpm;
      const used = own.reduce((sum, l) => sum + powderOf(l.component, amountOf(l) ?? 0), 0);
      return Math.max(1, Math.round(colour.depthPpm * (used / planned) * (colour.plannedDryMassMg / colour.dryMassMg)));
    };
    const weighedPpm = depthBy((l) => l.weighed);
    const correctedPpm = own.some((l) => l.corrected !== undefined)
      ? depthBy((l) => l.corrected ?? l.weighed)
      : undefined;
    return {
      lotId: colour.lotId,
      lotColourId: colour.lotColourId,
      revisionId: colour.revisionId,
      plannedPpm: colour.depthPpm,
      weighedPpm,
      correctedPpm,
      dyedPpm: correctedPpm ?? weighedPpm,
    };
  });
}

/** Lots that name a revision and a planned depth, at the depth that they were really dyed at. */
export function atDepthDyed<L extends { lotId: number; revisionId: number; depthPpm: number }>(
  db: Db,
  lots: readonly L[],
): L[] {
  const dyed = depthsDyed(
    db,
    lots.map((l) => l.lotId),
  );
  return lots.map((l) => {
    const own = dyed.find((d) => d.lotId === l.lotId && d.revisionId === l.revisionId && d.plannedPpm === l.depthPpm);
    return own ? { ...l, depthPpm: own.dyedPpm } : l;
  });
}

/** µL of solution count by the powder in them. */
const powderOf = (component: ComponentDyed, amount: number): number =>
  component.concPpm === null ? amount : (amount * component.concPpm) / 1e6;

function groupedBy<Row, Key>(rows: readonly Row[], keyOf: (row: Row) => Key): Map<Key, Row[]> {
  const groups = new Map<Key, Row[]>();
  for (const row of rows) {
    const group = groups.get(keyOf(row));
    if (group) group.push(row);
    else groups.set(keyOf(row), [row]);
  }
  return groups;
}
