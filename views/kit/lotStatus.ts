import type { Html } from '../html.ts';
import { badge } from './pageHead.ts';

export type LotStatus = 'planned' | 'onBench' | 'finished' | 'abandoned';

export const lotStatusWords: Readonly<Record<LotStatus, string>> = {
  planned: 'planned',
  onBench: 'on the bench',
  finished: 'finished',
  abandoned: 'abandoned',
};
const TONES = { planned: 'plain', onBench: 'busy', finished: 'good', abandoned: 'bad' } as const;

/** The state of a lot where it is named among other things. */
export const lotStatusBadge = (status: LotStatus): Html =>
  badge({ label: lotStatusWords[status], tone: TONES[status] });
