import { Refusal } from '../errors.ts';

/** So much slow work at once, and so many who wait for their turn. */
export class Lane {
  readonly #atOnce: number;
  readonly #mostWaiting: number;
  #underWay = 0;
  #waiting: (() => void)[] = [];

  constructor(atOnce: number, mostWaiting: number) {
    this.#atOnce = atOnce;
    this.#mostWaiting = mostWaiting;
  }

  async through<T>(work: () => Promise<T>): Promise<T> {
    if (this.#underWay >= this.#atOnce) {
      if (this.#waiting.length >= this.#mostWaiting)
        throw new Refusal('busy', 'Too many are trying to sign in at once. Try again in a minute.');
      await new Promise<void>((go) => this.#waiting.push(go));
    }
    this.#underWay++;
    try {
      return await work();
    } finally {
      this.#underWay--;
      this.#waiting.shift()?.();
    }
  }
}

/** A try at a passphrase takes 64 MiB and a fifth of a second. Strangers wait behind each other, one at a time; who is known does not wait
 *  for them. */
export const LANES = { strangers: new Lane(1, 30), known: new Lane(2, 30) } as const;
