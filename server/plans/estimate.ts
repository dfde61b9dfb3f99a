import { nearestInteger } from '../calc/rounding.ts';
import type { PlanContext } from './planContext.ts';
import { costMinorOf, rateOfStockLot, rateOfTime } from './rates.ts';
import type { PlanEstimateLine, PlanInput, PlanLine } from './schemas.ts';

export function estimateOf(a: {
  input: PlanInput;
  context: PlanContext;
  lines: readonly PlanLine[];
  dryMassMg: number;
}): PlanEstimateLine[] {
  const { context, input } = a;
  const { studio, fibre } = context;
  const lines: PlanEstimateLine[] = [];
  for (const line of a.lines) {
    if (!line.rate) continue;
    const byVolume = line.plannedVolumeUl !== null && line.stockLotId !== null;
    const quantity = byVolume
      ? (line.plannedVolumeUl ?? 0)
      : (line.plannedMassMg ?? nearestInteger({ value: (line.exactUg ?? 0) / 1000, field: 'mass' }));
    lines.push({
      kind: line.kind,
      description: `${line.code} ${line.name}`.trim(),
      quantity,
      quantityUnit: byVolume ? 'ul' : 'mg',
      rate: line.rate,
      costMinor: line.estimateMinor,
    });
  }
  if (input.goodsOwner === 'studio') {
    const rate = context.goodsStockLot
      ? rateOfStockLot(context.goodsStockLot)
      : fibre.costMinorPerKg === null
        ? null
        : { priceMinor: fibre.costMinorPerKg, perQuantity: 1_000_000 };
    if (rate)
      lines.push({
        kind: 'goods',
        description: fibre.name,
        quantity: a.dryMassMg,
        quantityUnit: 'mg',
        rate,
        costMinor: costMinorOf(a.dryMassMg, rate),
      });
  }
  const handsOnS = context.steps.reduce((sum, s) => sum + s.handsOnS, 0);
  for (const [kind, description, minorPerHour] of [
    ['labour', 'Hands-on time of the steps', studio.labourRateMinorPerHour],
    ['overhead', 'Overhead by labour hours', studio.overheadRateMinorPerHour],
  ] as const) {
    const rate = rateOfTime(minorPerHour);
    if (handsOnS > 0 && minorPerHour > 0)
      lines.push({
        kind,
        description,
        quantity: handsOnS,
        quantityUnit: 's',
        rate,
        costMinor: costMinorOf(handsOnS, rate),
      });
  }
  return lines;
}
