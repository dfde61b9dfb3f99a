/* Refused tries of people who are not signed in. Anybody on the network can make as many as they like, and the audit is kept for ever: so of an
 * address and a door the 1st, 2nd, 4th, 8th … of an hour are written down, each with how many there were by then. */

const HOUR_MS = 3_600_000;
/** Addresses that are told apart within an hour. Whoever has more of them is counted as one. */
const MOST_APART = 50;
const THE_OTHERS = 'others';

interface Counted {
  since: number;
  count: number;
}

export class StrangersTries {
  readonly #counts = new Map<string, Counted>();

  /** Counts a try; answers how many there were when it is to be written down, else null. */
  count({ action, address, now }: { action: string; address: string; now: number }): { count: number } | null {
    for (const [key, { since }] of this.#counts) if (since <= now - HOUR_MS) this.#counts.delete(key);
    const own = `${action} ${address}`;
    const key = this.#counts.has(own) || this.#counts.size < MOST_APART ? own : `${action} ${THE_OTHERS}`;
    const counted = this.#counts.get(key) ?? { since: now, count: 0 };
    counted.count++;
    this.#counts.set(key, counted);
    return Number.isInteger(Math.log2(counted.count)) ? { count: counted.count } : null;
  }
}
