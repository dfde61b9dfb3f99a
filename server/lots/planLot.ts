import type { LotRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid, notFound } from '../errors.ts';
import { computePlan } from '../plans/computePlan.ts';
import { dyesOfPlan } from '../plans/dyesOfPlan.ts';
import { planContext } from '../plans/previewPlan.ts';
import { costMinorOf } from '../plans/rates.ts';
import type { PlanInput } from '../plans/schemas.ts';
import { demandBelievableDepths } from '../recipes/deepShade.ts';
import { demandOpenOrders } from './ordersServed.ts';
import {
  insertLot,
  insertLotColour,
  insertLotComponent,
  insertLotLine,
  insertLotStep,
  lotById,
  nextLotNumber,
  orderIntoWork,
} from './queries.ts';

/** Plans a lot: computes the plan and writes it as the snapshot it will stay. */
export function planLot(deps: Deps, input: PlanInput, by: Actor): LotRow {
  const { db, now } = deps;
  return db.transaction((tx) => {
    const at = now();
    demandOpenOrders(tx, input);
    const context = planContext(tx, input, at);
    const plan = computePlan(input, context);
    demandBelievableDepths(dyesOfPlan(input, context), input.depthConfirmed);
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
