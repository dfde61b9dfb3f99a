import type { Db } from '../db/open.ts';
import type { LotRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound } from '../errors.ts';
import { revisionWithComponents } from '../recipes/queries.ts';
import { dayOf } from '../settings/days.ts';
import { listScales, theStudio } from '../settings/queries.ts';
import { movingAverageRates } from '../stock/movingAverage.ts';
import { type StockLotOverview, stockLotOverview, usableStockLots } from '../stock/queries.ts';
import { costMinorOf, rateOfStockLot } from './lotCost.ts';
import { demandOpenOrders } from './ordersServed.ts';
import { computePlan } from './plan.ts';
import type { PlanInput } from './planInput.ts';
import type { Plan, PlanContext } from './planShape.ts';
import {
  fibreOf,
  insertLot,
  insertLotColour,
  insertLotComponent,
  insertLotLine,
  insertLotStep,
  lotById,
  methodOf,
  methodParts,
  nextLotNumber,
  orderIntoWork,
  othersWant,
} from './queries.ts';

/** Reads what a plan is made from; a missing choice is a message beside its field. */
export function planContext(db: Db, input: PlanInput, now: number): PlanContext {
  const studio = theStudio(db);
  const fibre = fibreOf(db, input.fibreId);
  if (!fibre) throw invalid({ fibreId: 'Choose the goods.' });
  const method = methodOf(db, input.methodId);
  if (!method) throw invalid({ methodId: 'Choose a method.' });
  const revisions = input.colours.map((colour, i) => {
    const revision = revisionWithComponents(db, colour.revisionId);
    if (!revision) throw invalid({ [`revisionId.${i}`]: 'Choose a recipe.' });
    return revision;
  });
  const parts = methodParts(db, method.id);
  const stockLots = new Map<string, StockLotOverview[]>();
  for (const { dye } of revisions.flatMap((r) => r.components)) {
    if (!stockLots.has(`dye:${dye.id}`))
      stockLots.set(`dye:${dye.id}`, usableStockLots(db, { dyeId: dye.id, auxiliaryId: null }));
  }
  for (const { auxiliary } of parts.auxiliaries)
    stockLots.set(`auxiliary:${auxiliary.id}`, usableStockLots(db, { dyeId: null, auxiliaryId: auxiliary.id }));
  const containers = [...stockLots.values()].flat();
  const withLateMoney = (c: StockLotOverview): StockLotOverview => ({
    ...c,
    freightMinor: c.freightMinor + c.lateMinor,
  });
  const rates =
    studio.costing === 'movingAverage'
      ? movingAverageRates(db, containers, now)
      : new Map(containers.map((c) => [c.id, rateOfStockLot(withLateMoney(c))]));
  const goods = input.goodsStockLotId === null ? undefined : stockLotOverview(db, input.goodsStockLotId);
  const goodsStockLot = goods === undefined ? null : withLateMoney(goods);
  if (input.goodsStockLotId !== null && goodsStockLot?.fibreId !== fibre.id)
    throw invalid({ goodsStockLotId: 'That container does not hold these goods.' });
  return {
    studio,
    scales: listScales(db),
    fibre,
    method,
    ...parts,
    revisions,
    stockLots,
    rates,
    othersWant: othersWant(db),
    goodsStockLot,
    todayOn: dayOf(now, studio.zone),
  };
}

/** The plan that this input makes, without saving anything. */
export const previewPlan = (deps: Deps, input: PlanInput): Plan =>
  computePlan(input, planContext(deps.db, input, deps.now()));

/** Plans a lot: computes the plan and writes it as the snapshot it will stay. */
export function planLot(deps: Deps, input: PlanInput, by: Actor): LotRow {
  const { db, now } = deps;
  return db.transaction((tx) => {
    const at = now();
    demandOpenOrders(tx, input);
    const context = planContext(tx, input, at);
    const plan = computePlan(input, context);
    for (const line of plan.lines) {
      if (line.plannedMassMg === 0 || line.plannedVolumeUl === 0) {
        throw invalid({
          mass: `${line.name}: ${line.advice ?? 'so little cannot be measured.'} More goods, a deeper shade or stock solution would do.`,
        });
      }
    }
    if (input.repeatsLotId !== null && !lotById(tx, input.repeatsLotId)) throw notFound('lot to repeat');
    const lot = insertLot(tx, {
      number: nextLotNumber(tx, Number(context.todayOn.slice(0, 4))),
      status: 'planned',
      methodId: plan.methodId,
      fibreId: plan.fibreId,
      goodsText: plan.goodsText,
      pieces: plan.pieces,
      dryMassMg: plan.dryMassMg,
      goodsOwner: plan.goodsOwner,
      goodsStockLotId: input.goodsStockLotId,
      massFound: plan.massFound.found,
      coverage: plan.coverage,
      bathUl: plan.bathUl,
      soakUl: plan.soakUl,
      lossPpm: plan.lossPpm,
      readabilityMg: plan.readabilityMg,
      estimateMinor: plan.estimate.reduce((sum, e) => sum + costMinorOf(e.quantity, e.rate), 0),
      planJson: JSON.stringify(plan),
      plannedAt: at,
      plannedBy: by.personId,
      plannedForOn: input.plannedForOn,
      repeatsLotId: input.repeatsLotId,
    });
    const colourIds = plan.colours.map(
      (c) =>
        insertLotColour(tx, {
          lotId: lot.id,
          ordinal: c.ordinal,
          revisionId: c.revisionId,
          swatchId: c.swatchId,
          depthPpm: c.depthPpm,
          sharePpm: c.sharePpm,
          placement: c.placement,
        }).id,
    );
    for (const line of plan.lines) {
      insertLotComponent(tx, {
        lotId: lot.id,
        ordinal: line.ordinal,
        lotColourId: line.colourOrdinal === null ? null : (colourIds[line.colourOrdinal - 1] ?? null),
        kind: line.kind,
        dyeId: line.dyeId,
        auxiliaryId: line.auxiliaryId,
        vessel: line.vessel,
        basis: line.basis,
        exactUg: line.exactUg,
        plannedMassMg: line.plannedMassMg,
        plannedVolumeUl: line.plannedVolumeUl,
        concPpm: line.concPpm,
        strengthPpm: line.strengthPpm,
        step: line.step,
        stockLotId: line.stockLotId,
      });
    }
    for (const step of plan.steps) {
      insertLotStep(tx, {
        lotId: lot.id,
        ordinal: step.ordinal,
        name: step.name,
        plannedDurationS: step.durationS,
        plannedTempC: step.tempC,
        plannedHandsOnS: step.handsOnS,
        note: step.note,
      });
    }
    for (const { orderLineId, pieces } of input.orderLines) {
      insertLotLine(tx, { lotId: lot.id, orderLineId, pieces });
      orderIntoWork(tx, orderLineId);
    }
    return lot;
  });
}

/** The plan as it was snapshot. */
export const planOf = (lot: Pick<LotRow, 'planJson'>): Plan => JSON.parse(lot.planJson) as Plan;
