import { type Homography, homographyIfAny, mapPoint } from './homography.ts';
import type { PatchCandidate } from './patchCandidates.ts';

/** Candidates that stand in rows and columns, and the perspective that carries (column, row) to the image. */
export interface PatchLattice {
  members: { column: number; row: number; candidate: PatchCandidate }[];
  toImage: Homography;
}

const MIN_MEMBERS = 6;
/** A candidate belongs to a node of the lattice within this share of a step. */
const NODE_REACH = 0.28;
/** Members further than this share of a step from their fitted node are thrown out. */
const FIT_REACH = 0.12;
const DROPPED_TOGETHER = 0.8;

const key = (column: number, row: number): number => (column + 500) * 1000 + row + 500;

/** Buckets of candidates, so that looking around a point does not walk over all of them. */
function neighbourhood(candidates: readonly PatchCandidate[], cellPx: number) {
  const cells = new Map<number, number[]>();
  const cell = (x: number, y: number): number => Math.floor(x / cellPx) * 100003 + Math.floor(y / cellPx);
  candidates.forEach((c, i) => {
    const k = cell(c.x, c.y);
    const list = cells.get(k);
    if (list === undefined) cells.set(k, [i]);
    else list.push(i);
  });
  return (x: number, y: number, reachPx: number): number[] => {
    const out: number[] = [];
    const r = Math.ceil(reachPx / cellPx);
    const cx = Math.floor(x / cellPx);
    const cy = Math.floor(y / cellPx);
    for (let ix = cx - r; ix <= cx + r; ix++) {
      for (let iy = cy - r; iy <= cy + r; iy++) {
        for (const i of cells.get(ix * 100003 + iy) ?? []) {
          if (Math.hypot(candidates[i]!.x - x, candidates[i]!.y - y) <= reachPx) out.push(i);
        }
      }
    }
    return out;
  };
}

/** Checked cloth and rough tables give thousands of little candidates; a card's patches are among the larger. */
const MAX_SEEDS = 1500;

/** At most `count` lattices among the candidates (largest first), those that cover most of the image first. `maxSide` bounds
 *  how far rows and columns are followed. A rule of our own. */
export function patchLattices(candidates: readonly PatchCandidate[], maxSide: number, count: number): PatchLattice[] {
  const near = neighbourhood(candidates, 24);
  const used = new Set<number>();
  const found: PatchLattice[] = [];
  for (let seed = 0; seed < Math.min(MAX_SEEDS, candidates.length) && found.length < 2 * count; seed++) {
    if (used.has(seed)) continue;
    const best = bestFromSeed(candidates, seed, near, maxSide);
    if (best === undefined) continue;
    found.push(best.lattice);
    for (const i of best.indices) used.add(i);
  }
  const covered = (lattice: PatchLattice): number => lattice.members.reduce((sum, m) => sum + m.candidate.areaPx, 0);
  return found.sort((p, q) => covered(q) - covered(p)).slice(0, count);
}

function bestFromSeed(
  candidates: readonly PatchCandidate[],
  seed: number,
  near: (x: number, y: number, reachPx: number) => number[],
  maxSide: number,
): { lattice: PatchLattice; indices: Set<number> } | undefined {
  const s = candidates[seed]!;
  const side = Math.sqrt(s.areaPx);
  const around = near(s.x, s.y, 3.2 * side)
    .filter((i) => i !== seed && alike(candidates[i]!, s))
    .map((i) => ({ i, dx: candidates[i]!.x - s.x, dy: candidates[i]!.y - s.y }))
    .map((n) => ({ ...n, d: Math.hypot(n.dx, n.dy) }))
    .filter((n) => n.d > 0.8 * side)
    .sort((p, q) => p.d - q.d || p.i - q.i)
    .slice(0, 7);
  let best: { lattice: PatchLattice; indices: Set<number> } | undefined;
  for (let j = 0; j < around.length; j++) {
    for (let k = 0; k < around.length; k++) {
      const u = around[j]!;
      const v = around[k]!;
      // u then v clockwise on the screen: a card is never seen from behind.
      const sine = (u.dx * v.dy - u.dy * v.dx) / (u.d * v.d);
      if (j === k || sine < 0.55 || u.d > 2.2 * v.d || v.d > 2.2 * u.d) continue;
      // Steps between members of a lattice that is known already lead to the same one, or to a part of it.
      if (best?.indices.has(u.i) && best.indices.has(v.i)) continue;
      const grown = grow(candidates, seed, u, v, near, maxSide);
      if (grown.size < MIN_MEMBERS || (best !== undefined && grown.size <= best.lattice.members.length)) continue;
      const lattice = fitted(candidates, grown);
      if (lattice !== undefined && (best === undefined || lattice.members.length > best.lattice.members.length)) {
        best = { lattice, indices: new Set(grown.values()) };
      }
    }
  }
  return best;
}

const alike = (p: PatchCandidate, q: PatchCandidate): boolean => p.areaPx < 3 * q.areaPx && q.areaPx < 3 * p.areaPx;

function grow(
  candidates: readonly PatchCandidate[],
  seed: number,
  u: { dx: number; dy: number },
  v: { dx: number; dy: number },
  near: (x: number, y: number, reachPx: number) => number[],
  maxSide: number,
): Map<number, number> {
  const nodes = new Map<number, number>([[key(0, 0), seed]]);
  const taken = new Set<number>([seed]);
  // Each member carries its own steps, so that the lattice may bend with the perspective.
  const queue = [{ column: 0, row: 0, i: seed, u, v }];
  for (let head = 0; head < queue.length; head++) {
    const at = queue[head]!;
    const p = candidates[at.i]!;
    for (const [dc, dr] of [
      [1, 0],
      [-1, 0],
      [0, 1],
      [0, -1],
    ] as const) {
      const column = at.column + dc;
      const row = at.row + dr;
      if (Math.abs(column) >= maxSide || Math.abs(row) >= maxSide || nodes.has(key(column, row))) continue;
      const step = dc !== 0 ? at.u : at.v;
      const sign = dc + dr;
      const length = Math.hypot(step.dx, step.dy);
      const x = p.x + sign * step.dx;
      const y = p.y + sign * step.dy;
      let chosen = -1;
      let least = NODE_REACH * length;
      for (const i of near(x, y, least)) {
        if (taken.has(i) || !alike(candidates[i]!, p)) continue;
        const d = Math.hypot(candidates[i]!.x - x, candidates[i]!.y - y);
        if (d < least) {
          least = d;
          chosen = i;
        }
      }
      if (chosen < 0) continue;
      nodes.set(key(column, row), chosen);
      taken.add(chosen);
      const seen = { dx: sign * (candidates[chosen]!.x - p.x), dy: sign * (candidates[chosen]!.y - p.y) };
      queue.push({ column, row, i: chosen, u: dc !== 0 ? seen : at.u, v: dr !== 0 ? seen : at.v });
    }
  }
  return nodes;
}

/** Fits the perspective and drops, worst first, the members that do not stand on it. */
function fitted(candidates: readonly PatchCandidate[], nodes: Map<number, number>): PatchLattice | undefined {
  let members = [...nodes].map(([k, i]) => ({
    column: Math.floor(k / 1000) - 500,
    row: (k % 1000) - 500,
    candidate: candidates[i]!,
  }));
  while (members.length >= MIN_MEMBERS) {
    const columns = new Set(members.map((m) => m.column)).size;
    const rows = new Set(members.map((m) => m.row)).size;
    if (columns < 2 || rows < 2) return undefined;
    const toImage = homographyIfAny(
      members.map((m) => ({ x: m.column, y: m.row })),
      members.map((m) => m.candidate),
    );
    if (toImage === undefined) return undefined;
    const off = members.map((m) => {
      const p = mapPoint(toImage, m.column, m.row);
      const q = mapPoint(toImage, m.column + 1, m.row);
      const r = mapPoint(toImage, m.column, m.row + 1);
      const step = Math.min(Math.hypot(q.x - p.x, q.y - p.y), Math.hypot(r.x - p.x, r.y - p.y));
      const share = Math.hypot(m.candidate.x - p.x, m.candidate.y - p.y) / step;
      return Number.isFinite(share) ? share : Number.POSITIVE_INFINITY;
    });
    const most = Math.max(...off);
    if (most <= FIT_REACH) return { members, toImage };
    // The worst bends the fit for the others, so those that are not nearly as far off are judged again without it.
    const limit = Math.max(FIT_REACH, DROPPED_TOGETHER * most);
    members = members.filter((_, i) => off[i]! < most && off[i]! <= limit);
  }
  return undefined;
}
