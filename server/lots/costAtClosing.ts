import type { Db } from '../db/open.ts';
import type { CostLineRow } from '../db/tables/lots.ts';
import type { Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import { planOf } from '../plans/planOf.ts';
import { costMinorOf, type Rate, rateOfContainer, rateOfTime } from '../plans/rates.ts';
import { theStudio } from '../settings/queries.ts';
import { movingAverageRate } from '../stock/movingAverage.ts';
import { stockLotById } from '../stock/queries.ts';
import type { Bench } from './benchState.ts';
import { insertCostLine, labourOf } from './queries.ts';

/** The lot's cost, once and for all: dyes and auxiliaries by the containers really used, at what those cost (specific
 *  identification) or at the moving average of the item when the lot is closed, as the studio chose; discarded powder apart as
 *  waste, goods, labour at the rate of the day, overhead by labour hours. */
export function writeCostLines(
  deps: Deps,
  tx: Db,
  bench: Bench,
  status: 'finished' | 'abandoned',
  closedAt: number,
): void {
  const { lot } = bench;
  const studio = theStudio(tx);
  let ordinal = 0;
  const write = (
    line: Pick<CostLineRow, 'kind' | 'description' | 'quantity' | 'quantityUnit'> & {
      rate: Rate;
    } & Partial<CostLineRow>,
  ): void => {
    const { rate, ...rest } = line;
    ordinal += 1;
    insertCostLine(tx, {
      ...rest,
      lotId: lot.id,
      ordinal,
      ...rate,
      costMinor: costMinorOf(line.quantity, rate),
      writtenAt: deps.now(),
    });
  };

  for (const { line, stockLotId, wasted, quantity, unit } of drawnFromContainers(bench)) {
    const stockLot = stockLotById(tx, stockLotId);
    if (!stockLot) throw notFound('container');
    const { component } = line;
    write({
      kind: component.kind,
      description: `${component.code} ${component.name}, container ${stockLot.code}${wasted ? ', discarded' : ''}`,
      dyeId: component.dyeId,
      auxiliaryId: component.auxiliaryId,
      stockLotId,
      quantity,
      quantityUnit: unit,
      rate:
        studio.costing === 'movingAverage'
          ? movingAverageRate(tx, stockLot, closedAt)
          : rateOfContainer(tx, stockLot, closedAt),
      valuation: studio.costing,
      wasted,
    });
  }
  if (status === 'finished' && lot.goodsOwner === 'studio') {
    const goods = lot.goodsStockLotId === null ? undefined : stockLotById(tx, lot.goodsStockLotId);
    const rate = goods
      ? rateOfContainer(tx, goods, closedAt)
      : planOf(lot).estimate.find((e) => e.kind === 'goods')?.rate;
    if (rate)
      write({
        kind: 'goods',
        description: `${bench.plan.fibreName}: ${lot.goodsText}`,
        stockLotId: goods?.id ?? null,
        quantity: bench.dryMassMg,
        quantityUnit: 'mg',
        rate,
        valuation: goods ? 'specific' : null,
      });
  }
  let labourS = 0;
  for (const l of labourOf(tx, lot.id)) {
    if (l.voided) continue;
    labourS += l.durationS;
    write({
      kind: 'labour',
      description: `${l.personName}, ${l.stepName ?? 'the whole lot'}`,
      personId: l.personId,
      stepId: l.stepId,
      quantity: l.durationS,
      quantityUnit: 's',
      rate: rateOfTime(l.rateMinorPerHour),
    });
  }
  if (labourS > 0 && studio.overheadRateMinorPerHour > 0) {
    write({
      kind: 'overhead',
      description: 'Overhead by labour hours',
      quantity: labourS,
      quantityUnit: 's',
      rate: rateOfTime(studio.overheadRateMinorPerHour),
    });
  }
}

interface Drawn {
  line: Bench['lines'][number];
  stockLotId: number;
  wasted: 0 | 1;
  quantity: number;
  unit: 'mg' | 'ul';
}

/** What a lot has drawn of each item from each container, and what of it was discarded. */
function drawnFromContainers(bench: Bench): Iterable<Drawn> {
  const drawn = new Map<string, Drawn>();
  for (const line of bench.lines) {
    for (const w of line.weighings) {
      if (w.voided) continue;
      const wasted = w.discarded ? 1 : 0;
      const unit = w.massMg === null ? 'ul' : 'mg';
      const key = `${line.component.dyeId}:${line.component.auxiliaryId}:${w.stockLotId}:${wasted}`;
      const sum = drawn.get(key) ?? { line, stockLotId: w.stockLotId, wasted, quantity: 0, unit };
      sum.quantity += w.massMg ?? w.volumeUl ?? 0;
      drawn.set(key, sum);
    }
  }
  return drawn.values();
}
