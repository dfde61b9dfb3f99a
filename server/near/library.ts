import { type Conditions, conditionsOf, D65_2, type Lab, labOf, sameConditions } from '../calc/colour/reading.ts';
import { adaptLab } from '../calc/colour/spaces.ts';
import { type ColourIndex, colourIndex, type NearestFormula, nearestReadings } from '../calc/match/nearest.ts';
import type { Db } from '../db/open.ts';
import { usableReadings } from '../readings/usableReadings.ts';
import { changedSwatches, type LibraryReadingRow, lastChange, libraryReadings } from './queries.ts';

/* The colours of all swatches on the wall, held in memory: one entry for every usable reading (several for variegated goods).
   A table that the database's triggers keep tells what has changed since the last search, so that it does not matter who wrote,
   and a write that was rolled back never shows. Changed swatches stand on a small shelf of their own beside the large sorted
   one, until there are enough of them to sort everything again. */

/** One usable colour of a swatch. */
export interface LibraryReading {
  readingId: number;
  swatchId: number;
  lab: Lab;
  conditions: Conditions;
  source: LibraryReadingRow['source'];
  areaSharePpm: number | null;
  /** Place of its goods in the library's list of goods. */
  goods: number;
  depthPpm: number;
}

/** What swatches have in common: formula, fibre and method. */
export interface LibraryGoods {
  revisionId: number;
  fibreId: number;
  methodId: number;
}

/** Depths (ppm, both ends included) that are kept of each goods; null keeps none. By place in the list of goods. */
export type DepthsKept = readonly (readonly [number, number] | null)[];

interface Shelf {
  readings: readonly LibraryReading[];
  goods: Uint32Array;
  depthPpm: Float64Array;
  /** 0: has changed since, and stands on the other shelf if anywhere. */
  stands: Uint8Array;
  /** Where a swatch's readings stand: first place and number. */
  placesOf: Map<number, readonly [number, number]>;
  indexes: Map<string, ColourIndex>;
}

interface Library {
  sequence: number;
  goods: LibraryGoods[];
  goodsPlace: Map<string, number>;
  sorted: Shelf;
  changed: Map<number, LibraryReading[]>;
  recent: Shelf;
}

const LIBRARIES = new WeakMap<Db, Library>();

/** When more swatches than this have changed, and more than a tenth of all: sort everything again. */
const SORT_ANEW_FROM = 500;

export interface NearSearch {
  standard: { lab: Lab; conditions: Conditions };
  /** The conditions under which all are compared. Readings of others, and the standard, are adapted to them (Bradford). */
  under: Conditions;
  formula: NearestFormula;
  /** Swatches wanted, 1–200. */
  count: number;
  depthsKept?: DepthsKept;
  exceptSwatchId?: number;
}

export interface NearSwatch {
  swatchId: number;
  readingId: number;
  deltaE: number;
  /** Its nearest colour under the conditions of the comparison. */
  lab: Lab;
  areaSharePpm: number | null;
  source: LibraryReading['source'];
  /** The conditions of the reading, where they are others than those of the comparison. */
  adaptedFrom: Conditions | null;
}

/** The swatches nearest to a colour, nearest first, equals by id; of variegated goods the nearest colour counts. Exactly what
 *  comparing with every reading gives. */
export function nearestSwatches(db: Db, search: NearSearch): NearSwatch[] {
  const library = upToDate(db);
  const { under, standard } = search;
  const target = adaptLab({ lab: standard.lab, from: standard.conditions, to: under, method: 'bradford' });
  const wanted = Math.max(1, Math.min(200, Math.trunc(search.count)));
  const found = [library.sorted, library.recent].flatMap((shelf) => nearestOfShelf(shelf, target, wanted, search));
  return found.sort((x, y) => x.deltaE - y.deltaE || x.swatchId - y.swatchId).slice(0, wanted);
}

/** The goods that the library holds, by place; to work out which depths of each are kept. */
export const libraryGoods = (db: Db): readonly LibraryGoods[] => upToDate(db).goods;

/** Every usable colour on the wall, in the order of swatches. */
export function librarySnapshot(db: Db): LibraryReading[] {
  const { sorted, recent } = upToDate(db);
  return [...sorted.readings.filter((_, i) => sorted.stands[i] === 1), ...recent.readings].sort(
    (x, y) => x.swatchId - y.swatchId,
  );
}

function nearestOfShelf(shelf: Shelf, target: Lab, wanted: number, search: NearSearch): NearSwatch[] {
  if (shelf.readings.length === 0) return [];
  const index = indexOf(shelf, search.under);
  const mask = maskOf(shelf, search);
  // Several colours of one swatch may be among the nearest: ask for more until there are enough swatches.
  for (let count = wanted; ; count *= 2) {
    const near = nearestReadings({ index, target, formula: search.formula, count, mask });
    const first = new Map<number, NearSwatch>();
    for (const { place, deltaE } of near) {
      const reading = shelf.readings[place];
      if (reading === undefined || first.has(reading.swatchId)) continue;
      first.set(reading.swatchId, {
        swatchId: reading.swatchId,
        readingId: reading.readingId,
        deltaE,
        lab: labUnder(reading, search.under),
        areaSharePpm: reading.areaSharePpm,
        source: reading.source,
        adaptedFrom: sameConditions(reading.conditions, search.under) ? null : reading.conditions,
      });
    }
    if (first.size >= wanted || near.length < count) return [...first.values()].slice(0, wanted);
  }
}

const labUnder = (reading: LibraryReading, under: Conditions): Lab =>
  adaptLab({ lab: reading.lab, from: reading.conditions, to: under, method: 'bradford' });

function maskOf(shelf: Shelf, { depthsKept, exceptSwatchId }: NearSearch): Uint8Array {
  const mask = shelf.stands.slice();
  if (depthsKept !== undefined) {
    const least = Float64Array.from(depthsKept, (kept) => kept?.[0] ?? Number.POSITIVE_INFINITY);
    const most = Float64Array.from(depthsKept, (kept) => kept?.[1] ?? Number.NEGATIVE_INFINITY);
    const { goods, depthPpm } = shelf;
    for (let i = 0; i < mask.length; i++) {
      const g = goods[i] as number;
      const depth = depthPpm[i] as number;
      if (!(depth >= (least[g] as number) && depth <= (most[g] as number))) mask[i] = 0;
    }
  }
  if (exceptSwatchId !== undefined) {
    const [first, number] = shelf.placesOf.get(exceptSwatchId) ?? [0, 0];
    mask.fill(0, first, first + number);
  }
  return mask;
}

function indexOf(shelf: Shelf, under: Conditions): ColourIndex {
  const key = `${under.illuminant}/${under.observerDeg}`;
  const there = shelf.indexes.get(key);
  if (there) return there;
  const labs = shelf.readings.map((r) => labUnder(r, under));
  const made = colourIndex({ L: labs.map((c) => c.L), a: labs.map((c) => c.a), b: labs.map((c) => c.b) });
  shelf.indexes.set(key, made);
  return made;
}

/** A shelf of readings that come swatch by swatch. */
function shelfOf(readings: readonly LibraryReading[]): Shelf {
  const placesOf = new Map<number, readonly [number, number]>();
  readings.forEach(({ swatchId }, i) => {
    const [first, number] = placesOf.get(swatchId) ?? [i, 0];
    placesOf.set(swatchId, [first, number + 1]);
  });
  return {
    readings,
    goods: Uint32Array.from(readings, (r) => r.goods),
    depthPpm: Float64Array.from(readings, (r) => r.depthPpm),
    stands: new Uint8Array(readings.length).fill(1),
    placesOf,
    indexes: new Map(),
  };
}

function upToDate(db: Db): Library {
  const library = LIBRARIES.get(db);
  const sequence = lastChange(db);
  if (library?.sequence === sequence) return library;
  const fresh = library === undefined || sequence < library.sequence ? null : refreshed(db, library, sequence);
  const result = fresh ?? loaded(db, sequence);
  LIBRARIES.set(db, result);
  return result;
}

function loaded(db: Db, sequence: number): Library {
  const library: Library = {
    sequence,
    goods: [],
    goodsPlace: new Map(),
    sorted: shelfOf([]),
    changed: new Map(),
    recent: shelfOf([]),
  };
  const readings = [...usableBySwatch(library, libraryReadings(db)).values()].flat();
  library.sorted = shelfOf(readings);
  indexOf(library.sorted, D65_2);
  return library;
}

/** Null when so much has changed that it is better to sort everything again. */
function refreshed(db: Db, library: Library, sequence: number): Library | null {
  const ids = changedSwatches(db, library.sequence);
  if (library.changed.size + ids.length > Math.max(SORT_ANEW_FROM, library.sorted.readings.length / 10)) return null;
  const now = usableBySwatch(library, libraryReadings(db, ids));
  for (const id of ids) {
    const [first, number] = library.sorted.placesOf.get(id) ?? [0, 0];
    library.sorted.stands.fill(0, first, first + number);
    library.changed.set(id, now.get(id) ?? []);
  }
  const recent = [...library.changed.values()].flat().sort((x, y) => x.swatchId - y.swatchId);
  return { ...library, sequence, recent: shelfOf(recent) };
}

/** Usable readings of each swatch, in the order of the rows, which come swatch by swatch. */
function usableBySwatch(library: Library, rows: readonly LibraryReadingRow[]): Map<number, LibraryReading[]> {
  const bySwatch = new Map<number, LibraryReading[]>();
  for (let from = 0; from < rows.length; ) {
    const swatchId = rows[from]?.swatchId ?? 0;
    let to = from + 1;
    while (rows[to]?.swatchId === swatchId) to++;
    bySwatch.set(
      swatchId,
      usableReadings(rows.slice(from, to)).map((row) => ({
        readingId: row.id,
        swatchId,
        lab: labOf(row),
        conditions: conditionsOf(row),
        source: row.source,
        areaSharePpm: row.areaSharePpm,
        goods: goodsPlace(library, row),
        depthPpm: row.depthPpm,
      })),
    );
    from = to;
  }
  return bySwatch;
}

function goodsPlace(library: Library, { revisionId, fibreId, methodId }: LibraryGoods): number {
  const key = `${revisionId} ${fibreId} ${methodId}`;
  const there = library.goodsPlace.get(key);
  if (there !== undefined) return there;
  const place = library.goods.push({ revisionId, fibreId, methodId }) - 1;
  library.goodsPlace.set(key, place);
  return place;
}
