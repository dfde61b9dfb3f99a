import type { Actor } from '../server/deps.ts';
import { coloursOf, lotById, stockLotIdsUsed } from '../server/lots/queries.ts';
import { mixedLines, noteMixing } from '../server/orders/mixing.ts';
import { insertCustomer, linesOfOrder } from '../server/orders/queries.ts';
import { move } from '../server/orders/statuses.ts';
import { takeOrder } from '../server/orders/takeOrder.ts';
import type { MassFound, PlanColour } from '../server/plans/schemas.ts';
import { recordReadings } from '../server/readings/recordReadings.ts';
import { revisionWithComponents } from '../server/recipes/queries.ts';
import { dayOf, instantsOfDay } from '../server/settings/days.ts';
import { recallContainer } from '../server/stock/containers.ts';
import { stockTake, waste } from '../server/stock/ledger.ts';
import { lotsTouchedBy, openStockLots, stockLotById } from '../server/stock/queries.ts';
import { addSwatch } from '../server/swatches/addSwatch.ts';
import { asItCameOut, readingsOf, type Tone, tonesOf } from './cloth.ts';
import type { DyePct, Ground } from './colourWorld.ts';
import { laidDrawing, meantDrawing } from './drawings.ts';
import { type Dyeing, giveUp, judge, plan, type StillOnBench, startFor, work } from './dyeing.ts';
import { chanceOf } from './random.ts';
import { type Card, samplingDays } from './samples.ts';
import { type Recipes, revisionAt, SHADES } from './shades.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS, type Named, named, nextMorning, type Sowing, workingHour } from './sowing.ts';
import { CUSTOMERS, type LotOfYear, ORDERS, type OrderOfYear, OWN_LOTS, PRODUCTS, type Product } from './trade.ts';

/** A picture that is to be taken of a swatch or a lot. */
export interface Shot {
  of: { swatchId?: number | undefined; lotId?: number | undefined };
  name: string;
  tones: Tone[];
  ground: Ground;
  method: string;
  fibre: string;
  at: number;
  by: Actor;
  words: string;
}

interface Happening {
  at: number;
  happen: () => void;
}

interface OrderLine {
  orderLineId: number;
  swatchId: number | null;
}

const ANSWERS: Readonly<Record<string, readonly Readonly<Record<string, string>>[]>> = {
  ice: [
    {
      Ice: '6.5 kg',
      'Form of the ice': 'crushed',
      Powder: 'over the ice',
      'Rack or pool': 'on the rack',
      Fold: 'scrunched, open side up',
      'Melted after': '5.5 h',
      'Pick-up after wringing': '92 %',
    },
    {
      Ice: '8 kg',
      'Form of the ice': 'cubes',
      Powder: 'under the ice',
      'Rack or pool': 'on the rack',
      Fold: 'accordion, 6 cm',
      'Melted after': '6 h',
      'Pick-up after wringing': '88 %',
    },
    {
      Ice: '7 kg',
      'Form of the ice': 'cubes',
      Powder: 'over the ice',
      'Rack or pool': 'in the melt',
      Fold: 'twisted and coiled',
      'Melted after': '7 h',
      'Pick-up after wringing': '95 %',
    },
  ],
  lowWater: [
    { Vessel: 'enamel bowl, 28 cm', 'How tight': 'hand-tight' },
    { Vessel: 'bucket, 12 L', 'How tight': 'pressed' },
  ],
  paint: [{ 'Brush or squeegee': 'flat brush, 8 cm', Room: '21 °C' }],
  dip: [{ Steps: '7', 'Deepest at': 'hem', 'Height of the grading': '140' }],
  speckle: [
    { 'Carrier to powder': '10 : 1, fine salt', Sieve: 'fine', Sides: 'both' },
    { 'Carrier to powder': '6 : 1, fine salt', Sieve: 'none', Sides: 'one' },
  ],
  threeStage: [{ 'pH at the start': '5.4' }, { 'pH at the start': '5.1' }],
};

/** The invented year, from the first sampling day to what stands on the bench now. Answers the pictures to be taken. */
export function liveTheYear(s: Sowing, n: Named, recipes: Recipes): Shot[] {
  const year = new Year(s, n, recipes);
  year.run();
  return year.shots;
}

class Year {
  readonly shots: Shot[] = [];
  readonly #s: Sowing;
  readonly #n: Named;
  readonly #recipes: Recipes;
  readonly #cards: Card[] = [];
  readonly #customers = new Map<string, number>();
  readonly #happenings: Happening[] = [];
  #lots = 0;

  constructor(s: Sowing, n: Named, recipes: Recipes) {
    this.#s = s;
    this.#n = n;
    this.#recipes = recipes;
  }

  run(): void {
    const { deps } = this.#s;
    for (const { key, ...customer } of CUSTOMERS) this.#customers.set(key, insertCustomer(deps.db, customer).id);
    for (const { at, dye } of samplingDays(this.#s, this.#n, this.#recipes)) {
      this.#on(at, () => this.#keepCards(dye()));
    }
    for (const order of ORDERS) this.#orderOfYear(order);
    for (const { day, ...lot } of OWN_LOTS) {
      this.#on(workingHour(this.#s, day + 1, 16), () => this.#lot(lot, workingHour(this.#s, day, 8.8), null, day > 6));
    }
    for (const day of [305, 245, 183, 122, 61, 5]) this.#on(workingHour(this.#s, day, 17), () => this.#count(day));
    this.#on(workingHour(this.#s, 198, 11), () => this.#spill());
    this.#on(workingHour(this.#s, 116, 10), () => this.#recall());
    // One after another in time; what happens at one instant keeps the order in which it was written down.
    const queue = this.#happenings;
    for (;;) {
      queue.sort((a, b) => a.at - b.at);
      const next = queue.shift();
      if (!next) break;
      this.#s.clock.at = next.at;
      next.happen();
    }
    this.#now();
  }

  #on(at: number, happen: () => void): void {
    this.#happenings.push({ at, happen });
  }

  #ground(fibre: string): Ground {
    const ground = this.#n.grounds.get(fibre);
    if (!ground) throw new Error(`the seed knows no ground ${fibre}`);
    return ground;
  }

  #keepCards(cards: readonly Card[]): void {
    for (const card of cards) {
      this.#cards.push(card);
      const varied = card.tones.length > 1;
      const isPlain = ['indigoRope', 'moss'].includes(card.shade) && card.madeAt < this.#s.nowAt - 320 * DAY_MS;
      if (!varied && !isPlain) continue;
      this.shots.push({
        of: { swatchId: card.swatchId },
        name: `card ${card.swatchId}`,
        tones: card.tones,
        ground: card.ground,
        method: card.method,
        fibre: card.fibre,
        at: card.madeAt + 20 * MINUTE_MS,
        by: this.#s.owner,
        words: '',
      });
    }
  }

  /** The card that a customer points at: even goods, dyed by the recipe that holds; on the very goods if there is one, else
   *  on the library cloth, else on goods of the same class. */
  #cardFor(shade: string, fibre: string, at: number): Card | undefined {
    const protein = ['merino', 'merinoSilk', 'silk', 'flannel'];
    const { madeAt } = revisionAt(this.#recipes, shade, at);
    const fitting = this.#cards.filter(
      (c) =>
        c.shade === shade &&
        c.madeAt < at &&
        c.madeAt > madeAt &&
        c.isOwnDepth &&
        c.tones.length === 1 &&
        protein.includes(c.fibre) === protein.includes(fibre),
    );
    return fitting.findLast((c) => c.fibre === fibre) ?? fitting.findLast((c) => c.fibre === 'linen') ?? fitting.at(-1);
  }

  #order(order: OrderOfYear, orderedAt: number, dueAt: number): { orderId: number; lines: OrderLine[] } {
    const { deps, zone, money } = this.#s;
    const wanted = order.lines.map((line) => {
      const product = productOf(line);
      const shades = shadesOf(line);
      const [shade = ''] = shades;
      const card = shades.length === 1 ? this.#cardFor(shade, product.fibre, orderedAt) : undefined;
      return { line, product, shade, card, several: shades.length > 1 };
    });
    const row = takeOrder(deps.db, {
      customerId: named(this.#customers, order.customer),
      orderedOn: dayOf(orderedAt, zone),
      dueOn: dayOf(dueAt, zone),
      note: order.note ?? '',
      lines: wanted.map(({ line, product, shade, card, several }) => ({
        description: product.words(line.count),
        fibreId: named(this.#n.fibres, product.fibre),
        pieces: product.counted ? line.count : null,
        dryMassMg: product.counted ? null : Math.round(line.count * product.gramsEach) * 1000,
        wantedSwatchId: card?.swatchId ?? null,
        wantedRevisionId: card || several ? null : revisionAt(this.#recipes, shade, orderedAt).revisionId,
        wantedNote:
          line.wantedNote ??
          (several
            ? shadesOf(line)
                .map((k) => SHADES.get(k)?.name)
                .join(' with ')
            : ''),
        toleranceFormula: order.formula ?? null,
        toleranceMilli: order.limit === undefined ? null : Math.round(order.limit * 1000),
        priceMinor: money(product.price * line.count),
      })),
    });
    const lines = linesOfOrder(deps.db, row.id).map(({ line }) => ({
      orderLineId: line.id,
      swatchId: line.wantedSwatchId,
    }));
    return { orderId: row.id, lines };
  }

  #orderOfYear(order: OrderOfYear): void {
    const s = this.#s;
    const orderedAt = workingHour(s, order.ordered, 11);
    this.#on(orderedAt, () => {
      const { orderId, lines } = this.#order(order, orderedAt, workingHour(s, order.due, 12));
      let day = order.ordered - 5;
      let readyAt = orderedAt;
      order.lines.forEach((line, i) => {
        const orderLine = lines[i] ?? null;
        for (const lot of [line, ...(line.extra ?? [])]) {
          const startAt = workingHour(s, day, 8.6);
          const planAt = workingHour(s, day + 1, 15.5) + i * 20 * MINUTE_MS;
          this.#on(Math.max(planAt, orderedAt + HOUR_MS), () => this.#lot(lot, startAt, orderLine, true));
          readyAt = startAt + 5 * DAY_MS;
          day -= lot === line && line.extra ? 7 : 3;
        }
      });
      this.#on(nextMorning(s, readyAt, 10), () => {
        for (const line of mixedLines(s.deps.db, orderId)) {
          const words = 'The same pieces, dyed a second time: all of them come out of the second lot.';
          noteMixing(s.deps.db, line.orderLineId, words);
        }
        move(s.deps.db, orderId, 'readiness', { shortConfirmed: true });
      });
      if (order.due > 10) this.#on(workingHour(s, order.due, 14), () => move(s.deps.db, orderId, 'delivery'));
    });
  }

  #dyeing(
    lot: LotOfYear,
    planAt: number,
    startAt: number,
    line: OrderLine | null,
    repeatsLotId: number | null,
  ): Dyeing {
    const s = this.#s;
    this.#lots += 1;
    const product = productOf(lot);
    const name = `${this.#lots} ${product.words(lot.count)}`;
    const chance = chanceOf(`lot ${name}`);
    const shades = shadesOf(lot);
    const colours = shades.map((shade, i): PlanColour => {
      const revision = revisionAt(this.#recipes, shade, planAt);
      const card = this.#cardFor(shade, product.fibre, planAt);
      const shares = shades.length === 1 ? [1_000_000] : [580_000, 420_000];
      return {
        revisionId: revision.revisionId,
        swatchId: shades.length === 1 ? (card?.swatchId ?? null) : null,
        depthPpm: Math.round(revision.depth * (lot.depth ?? 1) * 10_000),
        sharePpm: shares[i] ?? 1_000_000,
        placement: shades.length === 1 ? '' : i === 0 ? 'along the folds' : 'in the gaps, and over the middle',
      };
    });
    const grams = lot.count * product.gramsEach * chance.between(0.985, 1.02);
    const answers = ANSWERS[product.method] ?? [{}];
    return {
      name,
      planAt,
      startAt,
      by: chance.happens(0.55) ? s.owner : s.dyer,
      fibre: product.fibre,
      method: product.method,
      goodsText: product.words(lot.count),
      pieces: product.counted ? lot.count : null,
      mass: massOf(product, lot.count, Math.round(grams), chance.between(1.32, 1.58)),
      goodsOwner: product.owner,
      colours,
      coverage: shades.length === 1 ? 'eachOverAll' : 'eachOverItsShare',
      orderLineId: line?.orderLineId ?? null,
      plannedForOn: dayOf(startAt, s.zone),
      repeatsLotId,
      slip: lot.slip ?? null,
      remarks: (lot.remarks ?? []).map(([step, kind, text]) => ({ step, kind, text })),
      answers: answers[this.#lots % answers.length] ?? {},
      drawn:
        product.method === 'ice' && shades.length > 1
          ? {
              meant: meantDrawing(),
              laid: laidDrawing(),
              words: 'The last fold would not hold and is tied; ice short at that end.',
            }
          : null,
    };
  }

  /** The lot before, for the one that dyes it again. */
  #last: { lotId: number; dyePct: DyePct[] } | null = null;

  /** A lot of the past: planned, dyed, read and judged. */
  #lot(lot: LotOfYear, startAt: number, line: OrderLine | null, isRead: boolean): void {
    const s = this.#s;
    const again = lot.repeatsLast ? this.#last : null;
    const planAt = s.clock.at;
    const d = this.#dyeing(lot, planAt, Math.max(startAt, planAt + 30 * MINUTE_MS), line, again?.lotId ?? null);
    const chance = chanceOf(`outcome ${d.name}`);
    const lotId = plan(s, this.#n, d);
    if (lot.abandon !== undefined) {
      const { readyAt } = work(s, { ...d }, lotId, { stepsDone: 3, runningForMin: null });
      giveUp(s, lotId, nextMorning(s, readyAt, 9), lot.abandon, d.by);
      return;
    }
    const { dyePct, readyAt } = work(s, d, lotId, null);
    const cameOut = dyePct.map((own, i) =>
      sumOf(asItCameOut(own, chance, 0.025), again?.dyePct[i] ?? {}, lot.bath ?? 1),
    );
    this.#last = { lotId, dyePct: cameOut };
    const ground = this.#ground(d.fibre);
    const tones = tonesOf(
      d.method,
      cameOut.map((own, i) => ({ dyePct: own, share: (d.colours[i]?.sharePpm ?? 1e6) / 1e6 })),
      chance,
    );
    const judgedAt = nextMorning(s, readyAt + 8 * HOUR_MS, 9.2);
    // Not dry yet: it waits on the bench to be judged.
    if (judgedAt > s.nowAt) return;
    if (isRead) {
      s.clock.at = judgedAt - 12 * MINUTE_MS;
      recordReadings(s.deps.db, { lotId }, readingsOf(tones, ground, chance), d.by, s.clock.at);
    }
    const pieces = d.pieces ?? 1;
    const bad = (lot.seconds ?? 0) + (lot.rework ?? 0);
    const scrap = Math.min(lot.scrap ?? 0, pieces);
    judge(s, d, lotId, judgedAt, {
      firstQuality: d.pieces === null && scrap > 0 ? 1 : pieces - bad - scrap,
      seconds: lot.seconds ?? 0,
      rework: lot.rework ?? 0,
      scrap: d.pieces === null ? 0 : scrap,
      secondsValueMinor: s.money((lot.seconds ?? 0) * productOf(lot).price * 0.4),
      note: lot.outcomeNote ?? (chance.happens(0.3) ? chance.pick(OUTCOMES) : ''),
      doDifferently: lot.doDifferently ?? (chance.happens(0.16) ? chance.pick(NEXT_TIME) : ''),
    });
    const swatchId =
      lot.swatch === undefined ? undefined : this.#swatchOf(lot.swatch, d, lotId, tones, judgedAt + 40 * MINUTE_MS);
    if (lot.photo || swatchId !== undefined) {
      this.shots.push({
        of: { lotId, swatchId },
        name: `lot ${d.name}`,
        tones,
        ground,
        method: d.method,
        fibre: d.fibre,
        at: judgedAt - 5 * MINUTE_MS,
        by: d.by,
        words: 'Dry, in north light',
      });
    }
  }

  #swatchOf(name: string, d: Dyeing, lotId: number, tones: Tone[], at: number): number | undefined {
    const s = this.#s;
    const { db } = s.deps;
    s.clock.at = at;
    const [colour] = coloursOf(db, lotId);
    const lot = lotById(db, lotId);
    if (!colour || !lot) return undefined;
    const dyeIds = revisionWithComponents(db, colour.revisionId)?.components.map((c) => c.dye.id) ?? [];
    const ground = this.#ground(d.fibre);
    const swatch = addSwatch(
      db,
      {
        code: null,
        name,
        revisionId: colour.revisionId,
        depthPpm: colour.depthPpm,
        fibreId: lot.fibreId,
        methodId: lot.methodId,
        lotId,
        dryMassMg: 12_000,
        dyedOn: dayOf(at, s.zone),
        cardPlace: 'Flat file, from lots',
        photoId: null,
        rating: 5,
        note: '',
        stockLotIds: stockLotIdsUsed(db, lotId).filter((id) => dyeIds.includes(stockLotById(db, id)?.dyeId ?? -1)),
        readings: readingsOf(tones, ground, chanceOf(`swatch of ${d.name}`)),
      },
      d.by,
      at,
    );
    return swatch.id;
  }

  /** A stock-take of part of the shelf: most agree, one does not. */
  #count(day: number): void {
    const s = this.#s;
    const chance = chanceOf(`count ${day}`);
    const open = openStockLots(s.deps.db).filter(
      (c) => c.kind !== 'fibre' && c.concPpm === null && c.recalledAt === null && c.onHandQuantity > 20_000,
    );
    const counted = open.filter((_, i) => (i + day) % 3 === 0);
    counted.forEach((c, i) => {
      s.clock.at += 2 * MINUTE_MS;
      const off = i === 1 ? Math.round(c.onHandQuantity * -chance.between(0.012, 0.03)) : 0;
      stockTake(
        s.deps.db,
        {
          stockLotId: c.id,
          countedQuantity: c.onHandQuantity + Math.round(off / 10) * 10,
          reason: 'count of the shelf',
        },
        s.dyer,
        { at: s.clock.at, recordedAt: s.clock.at },
      );
    });
  }

  #spill(): void {
    const s = this.#s;
    const jar = openStockLots(s.deps.db, { dyeId: named(this.#n.dyes, 'F31') }).find(
      (c) => c.unit === 'mg' && c.onHandQuantity > 20_000,
    );
    if (jar)
      waste(s.deps.db, { stockLotId: jar.id, quantity: 8400, reason: 'jar tipped over at the scale' }, s.dyer, {
        at: s.clock.at,
        recordedAt: s.clock.at,
      });
  }

  /** The maker calls a container back: of those at hand, the one that most lots were dyed from. */
  #recall(): void {
    const { db } = this.#s.deps;
    const [worst] = openStockLots(db, { kind: 'dye' })
      .filter((c) => c.concPpm === null && c.onHandQuantity > 0)
      .map((c) => ({ c, lots: lotsTouchedBy(db, c.id).length }))
      .filter(({ lots }) => lots >= 2 && lots <= 12)
      .sort((a, b) => b.lots - a.lots || a.c.id - b.c.id);
    if (worst)
      recallContainer(
        this.#s.deps,
        {
          stockLotId: worst.c.id,
          reason: 'maker’s notice: filled with the wrong strength, weak by about a tenth',
        },
        this.#s.owner,
      );
  }

  /** How long the ice-dyed gauze has been batching: it was soaked at nine, today or the day before. */
  #batchingForMin(): number {
    const { nowAt, zone } = this.#s;
    const beforeBatchMin = 420;
    const since = (at: number): number => Math.round((nowAt - at) / MINUTE_MS) - beforeBatchMin;
    const nine = (at: number): number => instantsOfDay(dayOf(at, zone), zone).startAt + 9 * HOUR_MS;
    return [since(nine(nowAt - DAY_MS)), since(nine(nowAt))].find((min) => min > 60 && min < 1380) ?? 510;
  }

  /** What stands on the bench and in the books at this very hour. */
  #now(): void {
    const s = this.#s;
    const due = (days: number): number => s.nowAt + days * DAY_MS;
    const take = (order: OrderOfYear): OrderLine[] => this.#order(order, due(-order.ordered), due(-order.due)).lines;
    s.clock.at = due(-26);
    const playhouse = take({
      ordered: 26,
      due: 3,
      customer: 'playhouse',
      formula: 'by eye',
      note: 'Fog, for the last act. They rang twice.',
      lines: [
        { product: 'icedGauze', count: 10, shade: ['seaGlass', 'slate'] },
        { product: 'drill', count: 2, shade: 'ochre' },
      ],
    });
    const cafe = take({
      ordered: 15,
      due: -4,
      customer: 'cafe',
      formula: 'CIEDE2000',
      limit: 2,
      lines: [{ product: 'napkins', count: 30, shade: 'ochre' }],
    });
    const cancelled = this.#order(
      {
        ordered: 13,
        due: -10,
        customer: 'stitchers',
        note: 'Fair put off until next year.',
        lines: [{ product: 'scarves', count: 16, shade: 'pebble' }],
      },
      due(-13),
      due(10),
    );
    move(s.deps.db, cancelled.orderId, 'cancellation');
    const knitters = take({
      ordered: 9,
      due: -6,
      customer: 'knitters',
      formula: 'by eye',
      lines: [
        { product: 'hanks', count: 10, shade: 'bilberry' },
        { product: 'hanks', count: 8, shade: 'lamp' },
      ],
    });
    take({
      ordered: 3,
      due: -12,
      customer: 'guesthouse',
      formula: 'CMC(2:1)',
      limit: 1.5,
      note: 'Like the summer’s, a shade deeper.',
      lines: [
        { product: 'tablecloths', count: 3, shade: 'eelgrass' },
        { product: 'napkins', count: 24, shade: 'eelgrass', wantedNote: 'A shade deeper than the card.' },
      ],
    });
    const standing: [LotOfYear, OrderLine | undefined, StillOnBench][] = [
      [
        {
          product: 'icedGauze',
          count: 10,
          shade: ['seaGlass', 'slate'],
          remarks: [[3, 'note', 'Ice under a wet sheet: slower, softer edges.']],
        },
        playhouse[0],
        { stepsDone: 4, runningForMin: this.#batchingForMin() },
      ],
      [{ product: 'mottled', count: 6, shade: 'thrift' }, undefined, { stepsDone: 5, runningForMin: null }],
      [
        { product: 'hanks', count: 6, shade: 'kelpPath', slip: 'deeper' },
        undefined,
        { stepsDone: 4, runningForMin: 136 },
      ],
      [
        {
          product: 'napkins',
          count: 30,
          shade: 'ochre',
          remarks: [[2, 'deviation', 'Salt in two parts: the first had caked.']],
        },
        cafe[0],
        { stepsDone: 3, runningForMin: 21 },
      ],
    ];
    for (const [lot, line, still] of standing) {
      const planAt = s.nowAt - 2 * DAY_MS - standing.length * HOUR_MS + this.#lots * MINUTE_MS;
      const draft = this.#dyeing(lot, planAt, planAt, line ?? null, null);
      const lotId = plan(s, this.#n, draft);
      const startAt = startFor(s, lotId, s.nowAt, still);
      work(s, { ...draft, startAt }, lotId, still);
    }
    const planned: [LotOfYear, OrderLine | undefined, number][] = [
      [{ product: 'hanks', count: 10, shade: 'bilberry' }, knitters[0], 1],
      [{ product: 'drill', count: 2, shade: 'ochre' }, playhouse[1], 1],
      [{ product: 'hanks', count: 8, shade: 'lamp' }, knitters[1], 2],
    ];
    for (const [lot, line, inDays] of planned) {
      const planAt = s.nowAt - (4 - inDays) * HOUR_MS - this.#lots * MINUTE_MS;
      plan(s, this.#n, this.#dyeing(lot, planAt, nextMorning(s, due(inDays - 1), 9), line ?? null, null));
    }
  }
}

const productOf = (lot: LotOfYear): Product => {
  const product = PRODUCTS[lot.product];
  if (!product) throw new Error(`nobody makes ${lot.product}`);
  return product;
};

const shadesOf = (lot: LotOfYear): readonly string[] => (typeof lot.shade === 'string' ? [lot.shade] : lot.shade);

const sumOf = (one: DyePct, other: DyePct, factor: number): DyePct =>
  Object.fromEntries(
    [...new Set([...Object.keys(one), ...Object.keys(other)])].map((code) => [
      code,
      (one[code] ?? 0) * factor + (other[code] ?? 0),
    ]),
  );

function massOf(product: Product, count: number, grams: number, dampPerDry: number): MassFound {
  switch (product.mass) {
    case 'fromArea':
      return { found: 'fromArea', lengthMm: product.lengthMm ?? 1000, widthMm: null, pieces: count };
    case 'fromPutUps':
      return { found: 'fromPutUps', count };
    case 'weighedDamp':
      return {
        found: 'weighedDamp',
        dampMassMg: Math.round(grams * dampPerDry) * 1000,
        moisture: {
          kind: 'sample',
          dampSampleMg: 60_000,
          drySampleMg: Math.round(6000 / dampPerDry) * 10,
          driedTo: 'airDry',
        },
      };
    case 'weighedDry':
    case 'stated':
      return { found: product.mass, massMg: grams * 1000 };
  }
}

const OUTCOMES = [
  'Level, good match under the window.',
  'A touch deeper than the card; accepted.',
  'Soft hand after the second wash.',
  'Best of this shade so far.',
  'Slight rub when damp, none when dry.',
] as const;

const NEXT_TIME = [
  'Start the bath at 30 °C, not at 35.',
  'Rinse once more before the hot wash.',
  'Weigh the goods after a night in the room.',
  'Use the wide pot.',
  'Order more before the next one.',
] as const;
