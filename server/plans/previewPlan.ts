import type { Db } from '../db/open.ts';
import type { Deps } from '../deps.ts';
import { invalid } from '../errors.ts';
import { fibreById } from '../fibres/queries.ts';
import { methodWithParts } from '../methods/queries.ts';
import { revisionWithComponents } from '../recipes/queries.ts';
import { dayOf } from '../settings/days.ts';
import { listScales, theStudio } from '../settings/queries.ts';
import { movingAverageRates } from '../stock/movingAverage.ts';
import { type StockLotOverview, stockLotOverview, usableStockLots } from '../stock/queries.ts';
import { computePlan } from './computePlan.ts';
import type { PlanContext } from './planContext.ts';
import { othersWant } from './queries.ts';
import { rateOfStockLot } from './rates.ts';
import type { Plan, PlanInput } from './schemas.ts';

/** Reads what a plan is made from; a missing choice is a message beside its field. */
export function planContext(db: Db, input: PlanInput, now: number): PlanContext {
  const studio = theStudio(db);
  const fibre = fibreById(db, input.fibreId);
  if (!fibre) throw invalid({ fibreId: 'Choose the goods.' });
  const found = methodWithParts(db, input.methodId);
  if (!found) throw invalid({ methodId: 'Choose a method.' });
  const revisions = input.colours.map((colour, i) => {
    const revision = revisionWithComponents(db, colour.revisionId);
    if (!revision) throw invalid({ [`revisionId.${i}`]: 'Choose a recipe.' });
    return revision;
  });
  const { method, ...parts } = found;
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
