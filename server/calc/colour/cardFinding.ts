import type { CardDefinition } from './cardDefinitions.ts';
import { settledOnEdges } from './cardEdges.ts';
import { ridgeSolve } from './denseSolve.ts';
import { type Homography, homographyBetween, homographyIfAny, mapPoint } from './homography.ts';
import { patchCandidates } from './patchCandidates.ts';
import { type PatchLattice, patchLattices } from './patchLattice.ts';
import { demandImage, type PixelImage, type Point, shrunk } from './pixelImage.ts';
import { D50_2, type Lab } from './reading.ts';
import { labFromSrgb, srgbFromLab } from './spaces.ts';

/** Centres of the four corner patches in the card's own order: upper left, upper right, lower right, lower left patch as the
 *  maker draws it, wherever they lie in the photo. */
export type CardCorners = readonly [Point, Point, Point, Point];

/** The same corners, each moved. A rule of our own. */
export const eachCorner = ([one, two, three, four]: CardCorners, moved: (p: Point) => Point): CardCorners => [
  moved(one),
  moved(two),
  moved(three),
  moved(four),
];

export type CardTurn = 0 | 90 | 180 | 270;

export type CardNotFoundReason =
  /** Nothing that stands in rows and columns like a card. */
  | 'noGrid'
  /** There is a grid of patches, but its colours are not this card's. */
  | 'otherColours'
  /** This card, but part of it lies outside the photo. */
  | 'cutOff'
  /** Two placements fit about as well. */
  | 'ambiguous'
  /** The card has too few patches to be told from its surroundings. */
  | 'tooFewPatches';

export type CardFinding =
  | {
      found: true;
      corners: CardCorners;
      /** 0–1: how well the colours fit, how many patches stood in the grid, how far the next best placement is off. */
      confidence: number;
      /** How far the card is turned clockwise in the photo, to the nearest quarter. */
      turnedDeg: CardTurn;
      /** Root mean square difference (CIELAB units) of the patches from the card after a rough correction. */
      colourMisfit: number;
    }
  | { found: false; reason: CardNotFoundReason };

/** Under this many patches colours alone do not settle which grid is the card, and which way up. */
export const MIN_PATCHES_TO_FIND = 8;

const WORKING_SIZES_PX = [1000, 1700] as const;
/** A finding less sure than this in the smaller size is looked for in the larger one too. */
const SURE = 0.6;
/* Rough colour match (CIELAB rms after a ridge-bound affine correction): cards right way up give some 4–9 in real photos,
   wrong placements 20 and more. */
export const GOOD_MISFIT = 13;
const NEXT_BEST_RATIO = 1.35;
const SAME_FIT_RATIO = 1.15;
const MAX_LATTICES = 40;
const MIN_VISIBLE_SHARE = 0.4;
/** Placements scored by the lattice as a whole that are then fitted by their own members. */
const PLACEMENTS_FITTED = 40;
/** A placement beyond this after the first round is no card and no rival of one, and is not looked at more closely. */
const HOPELESS_MISFIT = 4 * GOOD_MISFIT;

type Cell = { column: number; row: number };

interface Placement {
  /** Card position (column, row) → image. */
  toImage: Homography;
  misfit: number;
  inside: number;
  standing: number;
}

/** A way the card may lie on a lattice, with what was needed to judge it at a glance. */
interface RoughPlacement {
  misfit: number;
  inside: number;
  members: readonly (Cell & { at: Point })[];
}

/** The card as a camera without fault would see it. */
interface KnownCard {
  card: CardDefinition;
  patches: readonly KnownPatch[];
}
interface KnownPatch {
  lab: Lab;
  srgb: readonly [number, number, number];
}
interface SeenPatch {
  known: KnownPatch;
  srgb: readonly [number, number, number];
}

const knownCard = (card: CardDefinition): KnownCard => ({
  card,
  patches: card.patches.map(({ lab }) => ({ lab, srgb: plainSrgb(lab) })),
});

/** Finds the card by its grid of even patches and the order of its colours. Never guesses: below its confidence it says why
 *  not, and a person points at the corners. A rule of our own. */
export function findCard({ image, card }: { image: PixelImage; card: CardDefinition }): CardFinding {
  demandImage(image);
  if (card.patches.length < MIN_PATCHES_TO_FIND || card.columns < 2 || card.rows < 2) {
    return { found: false, reason: 'tooFewPatches' };
  }
  const known = knownCard(card);
  let answer: CardFinding = { found: false, reason: 'noGrid' };
  for (const size of WORKING_SIZES_PX) {
    const { image: small, scale } = shrunk(image, size);
    const one = findAt(small, known);
    if (one.found) {
      const corners = eachCorner(one.corners, (p) => grown(p, scale));
      if (!answer.found || one.confidence > answer.confidence) answer = { ...one, corners };
      if (one.confidence >= SURE) break;
    } else if (!answer.found && REASON_RANK[one.reason] > REASON_RANK[answer.reason]) answer = one;
    if (scale === 1) break;
  }
  return answer.found ? { ...answer, corners: settledCorners({ image, card, corners: answer.corners }) } : answer;
}

/** The corners moved onto the card's own edges, where enough patches show them; else as they were. Twice, since the middle of
 *  the band depends on the first guess. A rule of our own. */
export function settledCorners(input: { image: PixelImage; card: CardDefinition; corners: CardCorners }): CardCorners {
  const { image, card, corners } = input;
  const c = card.columns - 1;
  const r = card.rows - 1;
  if (c < 1 || r < 1) return corners;
  let toImage = homographyBetween(
    [
      { x: 0, y: 0 },
      { x: c, y: 0 },
      { x: c, y: r },
      { x: 0, y: r },
    ],
    corners,
  );
  for (let round = 0; round < 2; round++) {
    const settled = settledOnEdges({ image, toImage, columns: card.columns, rows: card.rows });
    if (settled === undefined) break;
    toImage = settled;
  }
  return cornersOf(toImage, card);
}

const REASON_RANK: Record<CardNotFoundReason, number> = {
  tooFewPatches: 0,
  noGrid: 0,
  otherColours: 1,
  ambiguous: 2,
  cutOff: 3,
};

// Pixel centres are whole numbers, so the shrunk image's pixel 0 lies at (1/scale − 1)/2 of the large one.
const grown = (p: Point, scale: number): Point => ({ x: (p.x + 0.5) / scale - 0.5, y: (p.y + 0.5) / scale - 0.5 });

function findAt(image: PixelImage, known: KnownCard): CardFinding {
  const { card } = known;
  const lattices = patchLattices(patchCandidates(image), Math.max(card.columns, card.rows), MAX_LATTICES);
  if (lattices.length === 0) return { found: false, reason: 'noGrid' };
  const placements = fittedPlacements(
    image,
    known,
    lattices.flatMap((lattice) => placementsOf(image, known, lattice)),
  );
  // Fewer patches fit more easily, so a card cut off is thought of only when no whole one fits.
  const whole = placements.filter((p) => p.inside === card.patches.length);
  const lowest = whole[0];
  if (lowest === undefined || lowest.misfit > GOOD_MISFIT) {
    const cut = placements.find((p) => p.inside < card.patches.length);
    if (cut !== undefined && cut.misfit < GOOD_MISFIT) return { found: false, reason: 'cutOff' };
    return { found: false, reason: placements.length > 0 ? 'otherColours' : 'noGrid' };
  }
  // The same place found from another lattice is not a rival; that on which most patches stood says the place best.
  const best = whole
    .filter((p) => p.misfit < SAME_FIT_RATIO * lowest.misfit && samePlace(p, lowest, card))
    .reduce((most, p) => (p.standing > most.standing ? p : most), lowest);
  const rival = whole.find((p) => !samePlace(p, best, card));
  const ratio = rival === undefined ? 4 : rival.misfit / best.misfit;
  if (ratio < NEXT_BEST_RATIO) return { found: false, reason: 'ambiguous' };
  const corners = cornersOf(best.toImage, card);
  const confidence =
    Math.min(1, (best.standing / card.patches.length) * 1.2) *
    Math.min(1, (1.25 * (GOOD_MISFIT - best.misfit)) / GOOD_MISFIT + 0.3) *
    Math.min(1, ratio / 2);
  return { found: true, corners, confidence, turnedDeg: turnOf(corners), colourMisfit: best.misfit };
}

function cornersOf(toImage: Homography, card: CardDefinition): CardCorners {
  const c = card.columns - 1;
  const r = card.rows - 1;
  return [mapPoint(toImage, 0, 0), mapPoint(toImage, c, 0), mapPoint(toImage, c, r), mapPoint(toImage, 0, r)];
}

function samePlace(p: Placement, q: Placement, card: CardDefinition): boolean {
  const a = cornersOf(p.toImage, card);
  const b = cornersOf(q.toImage, card);
  const step = Math.hypot(b[1].x - b[0].x, b[1].y - b[0].y) / (card.columns - 1);
  return a.every((corner, i) => Math.hypot(corner.x - b[i]!.x, corner.y - b[i]!.y) < 0.3 * step);
}

/** Which way round the corners of a card stand. A rule of our own. */
export function turnOf(corners: CardCorners): CardTurn {
  const [a, b, c, d] = corners;
  const angle = (Math.atan2(b.y + c.y - a.y - d.y, b.x + c.x - a.x - d.x) * 180) / Math.PI;
  return ((((Math.round(angle / 90) * 90) % 360) + 360) % 360) as CardTurn;
}

/** The most hopeful placements, whole cards and cut-off ones apart, each fitted by its own members; best first. */
function fittedPlacements(image: PixelImage, known: KnownCard, rough: RoughPlacement[]): Placement[] {
  const sorted = rough.sort((p, q) => p.misfit - q.misfit);
  const whole = sorted.filter((p) => p.inside === known.patches.length).slice(0, PLACEMENTS_FITTED);
  const cut = sorted.filter((p) => p.inside < known.patches.length).slice(0, PLACEMENTS_FITTED);
  return [...whole, ...cut]
    .flatMap(({ members }) => placed(image, known, members) ?? [])
    .sort((p, q) => p.misfit - q.misfit);
}

/** Every way the card can lie on the lattice: four turns, every offset that keeps most members on the card. */
function placementsOf(image: PixelImage, known: KnownCard, lattice: PatchLattice): RoughPlacement[] {
  const { card } = known;
  const out: RoughPlacement[] = [];
  for (const shear of SHEARS) {
    const straight = lattice.members.map(({ column, row, candidate }) => ({
      column: column + shear[0] * row,
      row: row + shear[1] * column,
      at: candidate,
    }));
    // The right shear is the one that packs the members most closely: the others spread over more cells than a card has.
    const spread = (of: (m: Cell) => number): number =>
      Math.max(...straight.map(of)) - Math.min(...straight.map(of)) + 1;
    const long = Math.max(card.columns, card.rows) + 2;
    if (spread((m) => m.column) > long || spread((m) => m.row) > long) continue;
    out.push(...placementsOfStraight(image, known, straight));
  }
  return out;
}

/** A lattice may have been grown along a diagonal of the patches; undone by one of these. */
const SHEARS = [
  [0, 0],
  [1, 0],
  [-1, 0],
  [0, 1],
  [0, -1],
] as const;

function placementsOfStraight(
  image: PixelImage,
  known: KnownCard,
  members: readonly (Cell & { at: Point })[],
): RoughPlacement[] {
  const { card } = known;
  const out: RoughPlacement[] = [];
  const stray = Math.max(2, Math.floor(members.length / 5));
  const colourAt = cellColours(image, members);
  if (colourAt === undefined) return out;
  for (let turn = 0; turn < 4; turn++) {
    const spun = members.map((m) => ({ ...spin(m, turn), at: m.at }));
    const columns = spun.map((m) => m.column);
    const rows = spun.map((m) => m.row);
    for (let dc = Math.min(...columns) - card.columns + 1; dc <= Math.max(...columns); dc++) {
      for (let dr = Math.min(...rows) - card.rows + 1; dr <= Math.max(...rows); dr++) {
        let count = 0;
        for (const m of spun) if (liesOn(card, m, dc, dr)) count++;
        if (count < spun.length - stray || count < Math.min(6, card.patches.length / 2)) continue;
        const seen: SeenPatch[] = [];
        for (let i = 0; i < known.patches.length; i++) {
          const cell = { column: dc + (i % card.columns), row: dr + Math.floor(i / card.columns) };
          const srgb = colourAt(spin(cell, (4 - turn) % 4));
          if (srgb !== undefined) seen.push({ srgb, known: known.patches[i]! });
        }
        if (!enoughSeen(seen, known)) continue;
        out.push({
          misfit: colourMisfit(seen),
          inside: seen.length,
          members: spun
            .filter((m) => liesOn(card, m, dc, dr))
            .map((m) => ({ column: m.column - dc, row: m.row - dr, at: m.at })),
        });
      }
    }
  }
  return out;
}

/** Whether a cell lies on a card whose first patch stands at (dc, dr). */
function liesOn(card: CardDefinition, { column, row }: Cell, dc: number, dr: number): boolean {
  return column >= dc && column < dc + card.columns && row >= dr && row < dr + card.rows;
}

/** The colour in the middle of any cell of a lattice, looked up once: the placements on it share most of their cells. */
function cellColours(
  image: PixelImage,
  members: readonly (Cell & { at: Point })[],
): ((cell: Cell) => SeenPatch['srgb'] | undefined) | undefined {
  const toImage = homographyIfAny(
    members.map((m) => ({ x: m.column, y: m.row })),
    members.map((m) => m.at),
  );
  if (toImage === undefined) return undefined;
  const known = new Map<number, SeenPatch['srgb'] | undefined>();
  return ({ column, row }) => {
    const key = (column + 500) * 1000 + row + 500;
    if (known.has(key)) return known.get(key);
    const colour = meanAround(image, toImage, column, row);
    known.set(key, colour);
    return colour;
  };
}

function enoughSeen(seen: readonly SeenPatch[], known: KnownCard): boolean {
  return seen.length >= MIN_VISIBLE_SHARE * known.patches.length && seen.length >= MIN_PATCHES_TO_FIND;
}

function spin({ column, row }: Cell, turn: number): Cell {
  if (turn === 1) return { column: row, row: -column };
  if (turn === 2) return { column: -column, row: -row };
  if (turn === 3) return { column: -row, row: column };
  return { column, row };
}

/** How badly the card's colours fit at given corners (see GOOD_MISFIT); undefined when it does not lie in the image.
 *  A rule of our own. */
export function cardMisfit(input: {
  image: PixelImage;
  card: CardDefinition;
  corners: CardCorners;
}): number | undefined {
  const { image, card, corners } = input;
  const c = card.columns - 1;
  const r = card.rows - 1;
  const members = [
    [0, 0],
    [c, 0],
    [c, r],
    [0, r],
  ].map(([column, row], i) => ({ column: column!, row: row!, at: corners[i]! }));
  const placement = placed(image, knownCard(card), members);
  return placement === undefined || placement.inside < card.patches.length ? undefined : placement.misfit;
}

function placed(
  image: PixelImage,
  known: KnownCard,
  members: readonly (Cell & { at: Point })[],
): Placement | undefined {
  const { card } = known;
  const toImage = homographyIfAny(
    members.map((m) => ({ x: m.column, y: m.row })),
    members.map((m) => m.at),
  );
  if (toImage === undefined) return undefined;
  const seen: SeenPatch[] = [];
  known.patches.forEach((patch, i) => {
    const srgb = meanAround(image, toImage, i % card.columns, Math.floor(i / card.columns));
    if (srgb !== undefined) seen.push({ srgb, known: patch });
  });
  if (!enoughSeen(seen, known)) return undefined;
  return { toImage, misfit: colourMisfit(seen), inside: seen.length, standing: members.length };
}

/** Mean of nine places over the middle of a patch, sRGB 0–1; undefined when the patch does not lie wholly in the image. */
function meanAround(
  { data, width, height, channels }: PixelImage,
  toImage: Homography,
  column: number,
  row: number,
): [number, number, number] | undefined {
  let r = 0;
  let g = 0;
  let b = 0;
  for (const dy of [-0.4, -0.2, 0, 0.2, 0.4]) {
    for (const dx of [-0.4, -0.2, 0, 0.2, 0.4]) {
      const { x, y } = mapPoint(toImage, column + dx, row + dy);
      if (!(x >= 0 && y >= 0 && x <= width - 1 && y <= height - 1)) return undefined;
      if (Math.abs(dx) > 0.3 || Math.abs(dy) > 0.3) continue;
      const p = (Math.round(y) * width + Math.round(x)) * channels;
      r += data[p]!;
      g += data[p + 1]!;
      b += data[p + 2]!;
    }
  }
  return [r / (9 * 255), g / (9 * 255), b / (9 * 255)];
}

/* The affine map from encoded sRGB to CIELAB that serves a camera without any fault: where the fit starts from, so that few
   patches or a wrong placement cannot bend it at will. */
const PLAIN_CAMERA: Float64Array = (() => {
  const x: number[][] = [];
  const y: number[][] = [];
  for (const r of [0.1, 0.3, 0.5, 0.7, 0.9]) {
    for (const g of [0.1, 0.3, 0.5, 0.7, 0.9]) {
      for (const b of [0.1, 0.3, 0.5, 0.7, 0.9]) {
        const lab = labFromSrgb({ srgb: { r, g, b }, conditions: D50_2 });
        x.push([r, g, b, 1]);
        y.push([lab.L, lab.a, lab.b]);
      }
    }
  }
  return ridgeSolve({ x, y, weights: x.map(() => 1), ridge: 1e-6 });
})();

/** sRGB 0–1 of a known colour, clipped as a camera would. */
function plainSrgb(lab: Lab): readonly [number, number, number] {
  const { r, g, b } = srgbFromLab({ lab, conditions: D50_2 }).srgb;
  return [r, g, b];
}

/** Rms difference in CIELAB after taking off exposure and cast and an affine correction bound to a plain camera; the worst
 *  eighth of the patches (glare, a thumb) is left out of the fit and counted at the limit of the rest. */
function colourMisfit(seen: readonly SeenPatch[]): number {
  const n = seen.length;
  const known = [0, 0, 0];
  const met = [0, 0, 0];
  for (const s of seen) {
    for (let c = 0; c < 3; c++) {
      known[c]! += s.known.srgb[c]!;
      met[c]! += s.srgb[c]!;
    }
  }
  const gain = known.map((sum, c) => Math.min(4, Math.max(0.4, sum / Math.max(1e-3, met[c]!))));
  const x = seen.map((s) => [s.srgb[0] * gain[0]!, s.srgb[1] * gain[1]!, s.srgb[2] * gain[2]!, 1]);
  const y = seen.map((s) => [s.known.lab.L, s.known.lab.a, s.known.lab.b]);
  const weights = new Array<number>(n).fill(1);
  const errors = new Float64Array(n);
  let misfit = 0;
  for (let round = 0; round < 3; round++) {
    const map = ridgeSolve({ x, y, weights, ridge: 0.12, towards: PLAIN_CAMERA });
    for (let i = 0; i < n; i++) {
      let sum = 0;
      for (let c = 0; c < 3; c++) {
        let v = 0;
        for (let k = 0; k < 4; k++) v += x[i]![k]! * map[k * 3 + c]!;
        sum += (v - y[i]![c]!) ** 2;
      }
      errors[i] = sum;
    }
    const limit = errors.slice().sort()[Math.ceil((n * 7) / 8) - 1]!;
    let total = 0;
    for (let i = 0; i < n; i++) {
      weights[i] = errors[i]! > limit ? 0 : 1;
      total += Math.min(errors[i]!, limit);
    }
    misfit = Math.sqrt(total / n);
    if (misfit > HOPELESS_MISFIT) break;
  }
  return misfit;
}
