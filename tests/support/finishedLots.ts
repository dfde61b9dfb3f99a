import { and, eq } from 'drizzle-orm';
import {
  costLines,
  logEntries,
  lotAdjustments,
  lotColours,
  lotComponents,
  lotLabour,
  lotLines,
  lotOutcomes,
  lotSteps,
  lots,
  lotTargets,
  weighings,
} from '../../server/db/tables/lots.ts';
import { auxiliaries, dyes, fibreParts, fibres } from '../../server/db/tables/materials.ts';
import { customers, orderLines, orders } from '../../server/db/tables/orders.ts';
import { methodSteps, methods, recipeComponents, recipeRevisions, recipes } from '../../server/db/tables/recipes.ts';
import { stockLedger } from '../../server/db/tables/stock.ts';
import { people } from '../../server/db/tables/studio.ts';
import { swatches } from '../../server/db/tables/swatches.ts';
import type { Actor, Deps } from '../../server/deps.ts';
import type { Plan, PlanLine } from '../../server/plans/schemas.ts';
import { receive } from '../../server/stock/ledger.ts';

/** What a lot stands on: goods, dyes, containers, a recipe, a method, an order. Written row by row, so that tests of the
 *  tables and of the exports do not lean on the rules of planning and finishing. */
export interface LotWorld {
  deps: Deps;
  owner: Actor;
  helper: Actor;
  fibreId: number;
  methodId: number;
  revisionId: number;
  swatchId: number;
  dyeIds: readonly [number, number];
  auxiliaryId: number;
  stockLotIds: { yellow: number; blue: number; soda: number };
  customerId: number;
  orderId: number;
  orderLineId: number;
}

export function lotWorld(deps: Deps, owner: Actor): LotWorld {
  const { db } = deps;
  const now = deps.now();
  const helperRow = db
    .insert(people)
    .values({ name: 'Rui', role: 'dyer', passphraseHash: null, labourRateMinorPerHour: 1800, createdAt: now })
    .returning()
    .get();
  const fibre = db
    .insert(fibres)
    .values({
      name: 'Linen, natural',
      class: 'cellulose',
      kind: 'cloth',
      arealMassMgPerM2: 190_000,
      regainPpm: 120_000,
    })
    .returning()
    .get();
  db.insert(fibreParts)
    .values({ fibreId: fibre.id, ordinal: 1, name: 'flax', sharePpm: 1_000_000, regainPpm: 120_000 })
    .run();
  const [yellow, blue] = ['Y1', 'B1'].map((code) =>
    db
      .insert(dyes)
      .values({ code, name: code === 'Y1' ? 'Yellow' : 'Blue', class: 'reactive' })
      .returning()
      .get(),
  );
  if (!yellow || !blue) throw new Error('two dyes were to be written');
  const soda = db.insert(auxiliaries).values({ code: 'SODA', name: 'Soda ash', form: 'solid' }).returning().get();
  const method = db.insert(methods).values({ name: 'Immersion, warm', dyeClass: 'reactive' }).returning().get();
  db.insert(methodSteps).values({ methodId: method.id, ordinal: 1, name: 'Dye', durationS: 3600 }).run();
  const recipe = db.insert(recipes).values({ name: 'Leaf', dyeClass: 'reactive' }).returning().get();
  const revision = db
    .insert(recipeRevisions)
    .values({
      recipeId: recipe.id,
      number: 1,
      entryStyle: 'split',
      totalDepthPpm: 20_000,
      madeAt: now,
      madeBy: owner.personId,
    })
    .returning()
    .get();
  db.insert(recipeComponents)
    .values([
      { revisionId: revision.id, ordinal: 1, dyeId: yellow.id, sharePpm: 750_000, depthPpm: 15_000 },
      { revisionId: revision.id, ordinal: 2, dyeId: blue.id, sharePpm: 250_000, depthPpm: 5_000 },
    ])
    .run();
  const swatch = db
    .insert(swatches)
    .values({
      code: 'L-1',
      name: 'Leaf on linen',
      revisionId: revision.id,
      depthPpm: 20_000,
      fibreId: fibre.id,
      methodId: method.id,
      dyedOn: '2026-01-12',
      madeBy: owner.personId,
    })
    .returning()
    .get();
  const container = (
    code: string,
    item: { dyeId?: number; auxiliaryId?: number },
    receivedMg: number,
    priceMinor: number,
    makerLot: string,
  ): number =>
    receive(
      db,
      {
        code,
        kind: item.dyeId === undefined ? 'auxiliary' : 'dye',
        dyeId: item.dyeId ?? null,
        auxiliaryId: item.auxiliaryId ?? null,
        fibreId: null,
        unit: 'mg',
        supplier: 'the usual',
        makerLot,
        strengthPpm: 1_000_000,
        receivedOn: '2026-01-05',
        openedOn: null,
        bestBeforeOn: null,
        priceMinor,
        freightMinor: 0,
        receivedQuantity: receivedMg,
        sourceStockLotId: null,
        concPpm: null,
        note: '',
      },
      owner,
      { at: now, recordedAt: now },
    ).id;
  const customer = db.insert(customers).values({ name: 'Café Foz' }).returning().get();
  const order = db
    .insert(orders)
    .values({ number: 'O-1', customerId: customer.id, orderedOn: '2026-03-01', dueOn: '2026-03-31', status: 'inWork' })
    .returning()
    .get();
  const orderLine = db
    .insert(orderLines)
    .values({ orderId: order.id, ordinal: 1, description: 'napkins', fibreId: fibre.id, pieces: 24 })
    .returning()
    .get();
  return {
    deps,
    owner,
    helper: { personId: helperRow.id, name: 'Rui', role: 'dyer' },
    fibreId: fibre.id,
    methodId: method.id,
    revisionId: revision.id,
    swatchId: swatch.id,
    dyeIds: [yellow.id, blue.id],
    auxiliaryId: soda.id,
    stockLotIds: {
      yellow: container('Y1-A', { dyeId: yellow.id }, 500_000, 4_250, 'P-77'),
      blue: container('B1-A', { dyeId: blue.id }, 250_000, 3_900, 'P-78'),
      soda: container('SODA-A', { auxiliaryId: soda.id }, 5_000_000, 1_200, '=S,"1"'),
    },
    customerId: customer.id,
    orderId: order.id,
    orderLineId: orderLine.id,
  };
}

export interface LotSpec {
  number: string;
  /** When it was finished; the rest follows backwards. */
  finishedAt: number;
  status?: 'finished' | 'abandoned';
  pieces?: number | null;
  dryMassMg?: number;
  estimateMinor?: number;
  goodsText?: string;
  /** Order lines served. */
  orderLineIds?: readonly number[];
  outcome?: Partial<Omit<typeof lotOutcomes.$inferInsert, 'lotId'>> | null;
  /** Cost lines besides those of the weighings and the labour. */
  extraCostLines?: readonly Omit<typeof costLines.$inferInsert, 'lotId' | 'ordinal' | 'writtenAt'>[];
  fibreId?: number;
  methodId?: number;
}

/** The plan behind such a lot, in figures of its own: 2 % of 840 g, three parts yellow to one of blue. */
function planOf(world: LotWorld, spec: LotSpec): Plan {
  const dryMassMg = spec.dryMassMg ?? 840_000;
  const line = (
    ordinal: number,
    item: {
      dyeId?: number;
      auxiliaryId?: number;
      code: string;
      name: string;
      stockLotId: number;
      stockLotCode: string;
    },
    massMg: number,
    more: Partial<PlanLine>,
  ): PlanLine => ({
    ordinal,
    kind: item.dyeId === undefined ? 'auxiliary' : 'dye',
    code: item.code,
    name: item.name,
    dyeId: item.dyeId ?? null,
    auxiliaryId: item.auxiliaryId ?? null,
    colourOrdinal: item.dyeId === undefined ? null : 1,
    vessel: item.dyeId === undefined ? 'bath' : null,
    basis: 'owg',
    basisText: '',
    depthPpm: null,
    exactUg: massMg * 1000,
    plannedMassMg: massMg,
    plannedVolumeUl: null,
    concPpm: null,
    step: 10,
    roundingErrorPct: 0,
    halfDigitErrorPct: null,
    strengthPpm: 1_000_000,
    stockLotId: item.stockLotId,
    stockLotCode: item.stockLotCode,
    onHand: null,
    short: 0,
    rate: null,
    estimateMinor: 0,
    advice: null,
    ...more,
  });
  const [yellow, blue] = world.dyeIds;
  const jars = world.stockLotIds;
  return {
    fibreId: spec.fibreId ?? world.fibreId,
    fibreName: 'Linen, natural',
    methodId: spec.methodId ?? world.methodId,
    methodName: 'Immersion, warm',
    goodsText: spec.goodsText ?? '24 napkins',
    pieces: spec.pieces === undefined ? 24 : spec.pieces,
    goodsOwner: 'customer',
    massFound: { found: 'weighedDry', massMg: dryMassMg },
    dryMassMg,
    coverage: 'eachOverAll',
    colours: [
      {
        ordinal: 1,
        recipeName: 'Leaf',
        revisionNumber: 1,
        revisionId: world.revisionId,
        swatchId: world.swatchId,
        depthPpm: 20_000,
        sharePpm: 1_000_000,
        placement: '',
        depthOverAllPct: 2,
      },
    ],
    depthOverAllPct: 2,
    weighedPct: 2,
    lossPpm: 0,
    lossMassUg: 0,
    uptakePpm: 1_000_000,
    readabilityMg: 10,
    lines: [
      line(1, { dyeId: yellow, code: 'Y1', name: 'Yellow', stockLotId: jars.yellow, stockLotCode: 'Y1-A' }, 12_600, {
        basisText: '1.5 % owg',
        depthPpm: 15_000,
      }),
      line(2, { dyeId: blue, code: 'B1', name: 'Blue', stockLotId: jars.blue, stockLotCode: 'B1-A' }, 4_200, {
        basisText: '0.5 % owg',
        depthPpm: 5_000,
      }),
      line(
        3,
        {
          auxiliaryId: world.auxiliaryId,
          code: 'SODA',
          name: 'Soda ash',
          stockLotId: jars.soda,
          stockLotCode: 'SODA-A',
        },
        40_000,
        {},
      ),
    ],
    bathUl: 16_800_000,
    soakUl: null,
    liquorFollowsGoods: true,
    makeUpWaterUl: 16_800_000,
    bathOverUl: 0,
    steps: [{ ordinal: 1, name: 'Dye', durationS: 3600, tempC: 40, handsOnS: 900, note: '' }],
    fields: [],
    estimate: [],
    valuation: 'specific',
    estimateMinor: spec.estimateMinor ?? 4_000,
    warnings: [],
    cautions: [],
  };
}

/** A lot with a row in every table that belongs to it: planned, weighed (one line with an adjustment), worked and, unless
 *  `leaveOpen`, closed. Answers the id. Costs: yellow 12.60 g × 42.50/500 g = 1.07; blue 4.20 g × 39.00/250 g = 0.66;
 *  soda ash 40.00 g × 12.00/5 kg = 0.10; labour 1 h 30 min at 18.00/h = 27.00; overhead the same time at 6.00/h = 9.00. */
export function writeLot(world: LotWorld, spec: LotSpec, leaveOpen = false): number {
  const { db } = world.deps;
  const { finishedAt, status = 'finished' } = spec;
  const startedAt = finishedAt - 4 * 3_600_000;
  const lotId = db
    .insert(lots)
    .values({
      number: spec.number,
      status: 'planned',
      methodId: spec.methodId ?? world.methodId,
      fibreId: spec.fibreId ?? world.fibreId,
      goodsText: spec.goodsText ?? '24 napkins',
      pieces: spec.pieces === undefined ? 24 : spec.pieces,
      dryMassMg: spec.dryMassMg ?? 840_000,
      goodsOwner: 'customer',
      massFound: 'weighedDry',
      coverage: 'eachOverAll',
      bathUl: 16_800_000,
      lossPpm: 0,
      readabilityMg: 10,
      estimateMinor: spec.estimateMinor ?? 4_000,
      planJson: JSON.stringify(planOf(world, spec)),
      plannedAt: startedAt - 3_600_000,
      plannedBy: world.owner.personId,
    })
    .returning()
    .get().id;
  for (const orderLineId of spec.orderLineIds ?? [world.orderLineId]) {
    db.insert(lotLines).values({ lotId, orderLineId, pieces: null }).run();
  }
  const colour = db
    .insert(lotColours)
    .values({
      lotId,
      ordinal: 1,
      revisionId: world.revisionId,
      swatchId: world.swatchId,
      depthPpm: 20_000,
      sharePpm: 1_000_000,
    })
    .returning()
    .get();
  const component = (
    ordinal: number,
    item: { dyeId?: number; auxiliaryId?: number },
    massMg: number,
    stockLotId: number,
  ): number =>
    db
      .insert(lotComponents)
      .values({
        lotId,
        ordinal,
        lotColourId: item.dyeId === undefined ? null : colour.id,
        kind: item.dyeId === undefined ? 'auxiliary' : 'dye',
        dyeId: item.dyeId ?? null,
        auxiliaryId: item.auxiliaryId ?? null,
        vessel: item.dyeId === undefined ? 'bath' : null,
        basis: 'owg',
        exactUg: massMg * 1000,
        plannedMassMg: massMg,
        step: 10,
        stockLotId,
      })
      .returning()
      .get().id;
  const yellow = component(1, { dyeId: world.dyeIds[0] }, 12_600, world.stockLotIds.yellow);
  const blue = component(2, { dyeId: world.dyeIds[1] }, 4_200, world.stockLotIds.blue);
  const soda = component(3, { auxiliaryId: world.auxiliaryId }, 40_000, world.stockLotIds.soda);
  const step = db
    .insert(lotSteps)
    .values({ lotId, ordinal: 1, name: 'Dye', plannedDurationS: 3600, plannedTempC: 40, plannedHandsOnS: 900 })
    .returning()
    .get();
  db.update(lots).set({ status: 'onBench', startedAt }).where(eq(lots.id, lotId)).run();

  let entries = 0;
  const log = (kind: (typeof logEntries.$inferInsert)['kind'], at: number, stepId: number | null = null): number =>
    db
      .insert(logEntries)
      .values({
        lotId,
        clientId: `${spec.number}-${String(++entries).padStart(8, '0')}`,
        kind,
        stepId,
        at,
        recordedAt: at,
        byPersonId: world.owner.personId,
      })
      .returning()
      .get().id;
  log('start', startedAt);
  const weigh = (componentId: number, stockLotId: number, massMg: number): void => {
    const at = startedAt + 600_000;
    const weighing = db
      .insert(weighings)
      .values({ lotId, componentId, stockLotId, massMg, strengthPpm: 1_000_000, logEntryId: log('weighing', at) })
      .returning()
      .get();
    db.insert(stockLedger)
      .values({
        stockLotId,
        kind: 'issue',
        quantity: -massMg,
        at,
        recordedAt: at,
        byPersonId: world.owner.personId,
        lotId,
        weighingId: weighing.id,
      })
      .run();
  };
  weigh(yellow, world.stockLotIds.yellow, 12_600);
  weigh(blue, world.stockLotIds.blue, 4_200);
  weigh(soda, world.stockLotIds.soda, 40_000);
  const adjustment = db
    .insert(lotAdjustments)
    .values({
      lotId,
      logEntryId: log('adjustment', startedAt + 660_000),
      way: 'keepAsMade',
      factorPpm: 1_000_000,
      dryMassMg: spec.dryMassMg ?? 840_000,
    })
    .returning()
    .get();
  db.insert(lotTargets).values({ lotId, adjustmentId: adjustment.id, componentId: blue, targetMassMg: 4_200 }).run();
  log('stepStart', startedAt + 900_000, step.id);
  log('stepEnd', startedAt + 4_500_000, step.id);
  db.insert(lotLabour)
    .values({
      lotId,
      logEntryId: log('labour', startedAt + 4_600_000),
      stepId: step.id,
      personId: world.helper.personId,
      durationS: 5_400,
      rateMinorPerHour: 1_800,
    })
    .run();
  if (leaveOpen) return lotId;

  if (spec.outcome !== null) {
    db.insert(lotOutcomes)
      .values({
        firstQuality: 22,
        seconds: 2,
        rework: 0,
        scrap: 0,
        secondsValueMinor: 0,
        judgedAt: finishedAt,
        judgedBy: world.owner.personId,
        ...spec.outcome,
        lotId,
      })
      .run();
  }
  const material = (
    kind: 'dye' | 'auxiliary',
    description: string,
    ids: { dyeId?: number; auxiliaryId?: number },
    stockLotId: number,
    numbers: { quantity: number; priceMinor: number; perQuantity: number; costMinor: number },
  ) => ({ kind, description, ...ids, stockLotId, quantityUnit: 'mg' as const, ...numbers });
  const lines: Omit<typeof costLines.$inferInsert, 'lotId' | 'ordinal' | 'writtenAt'>[] = [
    material('dye', 'Yellow', { dyeId: world.dyeIds[0] }, world.stockLotIds.yellow, {
      quantity: 12_600,
      priceMinor: 4_250,
      perQuantity: 500_000,
      costMinor: 107,
    }),
    material('dye', 'Blue', { dyeId: world.dyeIds[1] }, world.stockLotIds.blue, {
      quantity: 4_200,
      priceMinor: 3_900,
      perQuantity: 250_000,
      costMinor: 66,
    }),
    material('auxiliary', 'Soda ash', { auxiliaryId: world.auxiliaryId }, world.stockLotIds.soda, {
      quantity: 40_000,
      priceMinor: 1_200,
      perQuantity: 5_000_000,
      costMinor: 10,
    }),
    {
      kind: 'labour',
      description: 'Rui, Dye',
      personId: world.helper.personId,
      stepId: step.id,
      quantity: 5_400,
      quantityUnit: 's',
      priceMinor: 1_800,
      perQuantity: 3_600,
      costMinor: 2_700,
    },
    {
      kind: 'overhead',
      description: 'Overhead',
      quantity: 5_400,
      quantityUnit: 's',
      priceMinor: 600,
      perQuantity: 3_600,
      costMinor: 900,
    },
    ...(spec.extraCostLines ?? []),
  ];
  lines.forEach((line, i) => {
    db.insert(costLines)
      .values({ ...line, lotId, ordinal: i + 1, writtenAt: finishedAt })
      .run();
  });
  log(status === 'finished' ? 'finish' : 'abandon', finishedAt);
  db.update(lots).set({ status, finishedAt }).where(eq(lots.id, lotId)).run();
  return lotId;
}

/** Takes back one cost line of a closed lot by a line of the opposite sign. */
export function correctCostLine(world: LotWorld, lotId: number, ordinal: number, asOrdinal: number): void {
  const { db } = world.deps;
  const line = db
    .select()
    .from(costLines)
    .where(and(eq(costLines.lotId, lotId), eq(costLines.ordinal, ordinal)))
    .get();
  if (!line) throw new Error(`lot ${lotId} has no cost line ${ordinal}`);
  const { id, ...rest } = line;
  db.insert(costLines)
    .values({
      ...rest,
      ordinal: asOrdinal,
      quantity: -line.quantity,
      costMinor: -line.costMinor,
      correctsId: id,
      correction: 'reversal',
      reason: 'read wrongly',
      writtenBy: world.owner.personId,
      description: `Correction: ${line.description}`,
    })
    .run();
}
