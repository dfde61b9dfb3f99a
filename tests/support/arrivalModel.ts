/* What a studio must say after a set of happenings, worked out from the set and its times alone: no order of arrival comes in, no
   ledger, no balancing. Written apart from the service, from the sentences of the house's rules. Masses in mg, volumes in µL. */

export interface ModelWeighing {
  lot: number;
  jar: number;
  at: number;
  quantity: number;
  /** Takes part in nothing any more. */
  voided: boolean;
  /** Thrown away and weighed anew: spent, and no part of the bath. */
  discarded: boolean;
}

export type JarEvent =
  | { at: number; is: 'count' | 'reopened' | 'waste' | 'dissolved' | 'weighed'; quantity: number }
  | { at: number; is: 'closedEmpty' | 'thrownAway' };

export interface ModelJar {
  received: number;
  receivedAt: number;
  priceMinor: number;
  /** The jar whose powder a bottle of solution holds, and how much of it in a µL, ppm. */
  madeFrom: number | null;
  concPpm: number | null;
  recalledAt: number | null;
  events: JarEvent[];
}

export interface Happenings {
  jars: ModelJar[];
  weighings: ModelWeighing[];
  finishes: { lot: number; at: number }[];
  /** By how much the owner corrected what a finished lot had from a jar. */
  corrections: { lot: number; jar: number; by: number }[];
  forgotten: { lot: number; jar: number; quantity: number }[];
}

/** Quantities that left a jar for a lot, each at its time: a correction found out later is about the last weighing, and where it takes
 *  away more than that, about those before it; what was forgotten was used before the lot was finished. */
function drawn(set: Happenings, jar: number): { lot: number; at: number; quantity: number }[] {
  const lots = [...new Set([...set.weighings, ...set.forgotten].filter((x) => x.jar === jar).map((x) => x.lot))];
  return lots.flatMap((lot) => {
    const own = set.weighings
      .filter((w) => w.lot === lot && w.jar === jar && !w.voided)
      .map(({ at, quantity }) => ({ lot, at, quantity }))
      .sort((a, b) => a.at - b.at);
    let owed = set.corrections.filter((c) => c.lot === lot && c.jar === jar).reduce((sum, c) => sum + c.by, 0);
    for (let i = own.length - 1; i >= 0 && owed !== 0; i--) {
      const entry = own[i];
      if (!entry) break;
      const change = Math.max(owed, -entry.quantity);
      entry.quantity += change;
      owed -= change;
    }
    const finishedAt = set.finishes.find((f) => f.lot === lot)?.at ?? 0;
    const late = set.forgotten.filter((f) => f.lot === lot && f.jar === jar);
    return [...own, ...late.map(({ quantity }) => ({ lot, at: finishedAt, quantity }))].filter((d) => d.quantity > 0);
  });
}

/** What a jar holds at an instant: a count says what there was, everything else moves it. */
export function stockAt(set: Happenings, jar: number, at: number): number {
  const own = set.jars[jar];
  if (!own) return 0;
  const weighed = drawn(set, jar).map((d): JarEvent => ({ at: d.at, is: 'weighed', quantity: d.quantity }));
  const events = [...own.events, ...weighed].filter((e) => e.at <= at).sort((a, b) => a.at - b.at);
  if (events.length === 0 && own.receivedAt > at) return 0;
  let there = own.received;
  for (const e of events) {
    if (e.is === 'thrownAway') {
      // Opened again, it had not been thrown away after all.
      if (!own.events.some((o) => o.is === 'reopened' && o.at > e.at)) there = 0;
    } else if (!('quantity' in e)) there = 0;
    else if (e.is === 'count' || e.is === 'reopened') there = e.quantity;
    else there -= e.quantity;
  }
  return there;
}

/** quantity × price / received, halves up; in whole numbers, so that no double stands between. */
function cost(quantity: number, jar: ModelJar): number {
  const [q, p, r] = [BigInt(quantity), BigInt(jar.priceMinor), BigInt(jar.received)];
  return Number((2n * q * p + r) / (2n * r));
}

/** What a finished lot cost in materials: of each jar what went in, and what was thrown away, rounded once; what was forgotten by
 *  itself. */
export function costOf(set: Happenings, lot: number): number {
  let sum = 0;
  set.jars.forEach((jar, j) => {
    for (const discarded of [false, true]) {
      const weighed = set.weighings
        .filter((w) => w.lot === lot && w.jar === j && !w.voided && w.discarded === discarded)
        .reduce((all, w) => all + w.quantity, 0);
      const corrected = discarded
        ? 0
        : set.corrections.filter((c) => c.lot === lot && c.jar === j).reduce((all, c) => all + c.by, 0);
      sum += cost(weighed + corrected, jar);
    }
    for (const f of set.forgotten) if (f.lot === lot && f.jar === j) sum += cost(f.quantity, jar);
  });
  return sum;
}

/** What counts in the bath of a lot: by the jar that a line's own powder is in, mg. */
export function inTheCup(set: Happenings, lot: number, jarOf: (jar: number) => number): Map<number, number> {
  const cups = new Map<number, number>();
  for (const w of set.weighings) {
    if (w.lot !== lot || w.voided || w.discarded) continue;
    const conc = set.jars[w.jar]?.concPpm ?? null;
    const mg = conc === null ? w.quantity : (w.quantity * conc) / 1e6;
    cups.set(jarOf(w.jar), (cups.get(jarOf(w.jar)) ?? 0) + mg);
  }
  return cups;
}

/** Lots that something of a jar is in, through solutions made from it too: 'lot:jar' with how much. */
export function traceOf(set: Happenings, jar: number): Map<string, number> {
  const trace = new Map<string, number>();
  set.jars.forEach((own, j) => {
    if (j !== jar && own.madeFrom !== jar) return;
    for (const d of drawn(set, j)) trace.set(`${d.lot}:${j}`, (trace.get(`${d.lot}:${j}`) ?? 0) + d.quantity);
  });
  return trace;
}

export const beganAt = (set: Happenings, lot: number): number =>
  Math.min(...set.weighings.filter((w) => w.lot === lot && !w.voided).map((w) => w.at));
