import type { OutcomeInput } from '../../server/lots/finishLot.ts';
import type { PlanInput } from '../../server/plans/schemas.ts';
import type { World } from './world.ts';

/** What a lot of the small world is planned with: 24 napkins of 1.2 kg in one colour at 2 %, of the studio's own linen. */
export const planInput = (
  w: Pick<World, 'linenId' | 'methodId' | 'revisionId'>,
  more: Partial<PlanInput> = {},
): PlanInput => ({
  fibreId: w.linenId,
  methodId: w.methodId,
  goodsText: '24 napkins',
  pieces: 24,
  goodsOwner: 'studio',
  goodsStockLotId: null,
  mass: { found: 'weighedDry', massMg: 1_200_000 },
  coverage: 'eachOverAll',
  colours: [{ revisionId: w.revisionId, swatchId: null, depthPpm: 20_000, sharePpm: 1_000_000, placement: '' }],
  bathUl: null,
  soakUl: null,
  lossPpm: null,
  solutions: 'auto',
  stockLotChoices: {},
  orderLines: [],
  plannedForOn: null,
  repeatsLotId: null,
  ...more,
});

/** What is said of a lot at its finish: all of it first quality, no hands written down, lines without a reading confirmed. */
export const outcomeInput = (
  more: Pick<OutcomeInput, 'lotId' | 'clientId' | 'at'> & Partial<OutcomeInput>,
): OutcomeInput => ({
  firstQuality: 24,
  seconds: 0,
  rework: 0,
  scrap: 0,
  secondsValueMinor: 0,
  note: '',
  doDifferently: '',
  labour: [],
  unweighedConfirmed: true,
  ...more,
});

/** 10 kg of something, received in March. */
export const TEN_KILOS_RECEIVED = {
  code: '',
  quantity: 10_000_000,
  priceMinor: 30_000,
  freightMinor: 0,
  supplier: '',
  makerLot: '',
  strengthPpm: 1_000_000,
  receivedOn: '2026-03-10',
  openedOn: null,
  bestBeforeOn: null,
  note: '',
  clientId: null,
} as const;
