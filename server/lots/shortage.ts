import type { Plan, PlanContext, PlanLine } from './plan.ts';

/** Whether there is enough of everything: of a container over all lines that are planned from it, of a material over all its
 *  containers, and over what other lots that are planned or on the bench still want, told apart. */

const wantedOf = (line: PlanLine): number => line.plannedVolumeUl ?? line.plannedMassMg ?? 0;

/** Lets the lines draw from their containers one after another, so that what a line lacks counts what the lines before it took. */
export function drawFromContainers(lines: PlanLine[]): void {
  const taken = new Map<number, number>();
  for (const line of lines) {
    if (line.stockLotId === null || line.onHand === null) continue;
    const before = taken.get(line.stockLotId) ?? 0;
    line.short = Math.min(wantedOf(line), Math.max(0, before + wantedOf(line) - Math.max(0, line.onHand)));
    taken.set(line.stockLotId, before + wantedOf(line));
  }
}

interface Need {
  name: string;
  code: string;
  unit: 'mg' | 'ul';
  wanted: number;
  onHand: number;
}

const amount = (quantity: number, unit: 'mg' | 'ul'): string =>
  `${(quantity / 1000).toFixed(2)} ${unit === 'mg' ? 'g' : 'mL'}`;

export function shortageWords(plan: Plan, context: PlanContext): string[] {
  const { containers, items } = context.othersWant;
  const words: string[] = [];
  const needs = new Map<number, Need>();
  const powder = new Map<string, Need>();
  for (const line of plan.lines) {
    const { stockLotId, stockLotCode: code, name } = line;
    const unit = line.plannedVolumeUl === null ? 'mg' : 'ul';
    if (stockLotId !== null && code !== null) {
      const known = needs.get(stockLotId) ?? { name, code, unit, wanted: 0, onHand: line.onHand ?? 0 };
      needs.set(stockLotId, { ...known, wanted: known.wanted + wantedOf(line) });
    }
    const item = line.kind === 'dye' ? `dye:${line.dyeId}` : `auxiliary:${line.auxiliaryId}`;
    const all = context.stockLots.get(item) ?? [];
    if (all.length === 0) continue;
    // A solution holds powder; a liquid as bought is counted as it is.
    const held = all.reduce(
      (sum, s) => sum + Math.max(0, s.onHandQuantity) * (s.concPpm === null ? 1 : s.concPpm / 1e6),
      0,
    );
    const unitBought = all.find((s) => s.concPpm === null)?.unit ?? 'mg';
    const own =
      line.plannedMassMg ??
      (line.concPpm === null ? (line.plannedVolumeUl ?? 0) : ((line.plannedVolumeUl ?? 0) * line.concPpm) / 1e6);
    const known = powder.get(item) ?? { name, code: '', unit: unitBought, wanted: 0, onHand: held };
    powder.set(item, { ...known, wanted: known.wanted + own });
  }
  if (context.goodsStockLot !== null) {
    const { id, code, onHandQuantity: onHand } = context.goodsStockLot;
    needs.set(id, { name: plan.fibreName, code, unit: 'mg', wanted: plan.dryMassMg, onHand });
  }
  for (const [id, n] of needs) {
    const others = containers.get(id) ?? 0;
    const short = n.wanted - Math.max(0, n.onHand);
    if (short > 0) words.push(`${n.name}: container ${n.code} is short by ${amount(short, n.unit)}.`);
    if (others > 0 && n.wanted + others > Math.max(0, n.onHand))
      words.push(
        `${n.name}: other lots in hand still want ${amount(others, n.unit)} from ${n.code}; for all together ${amount(n.wanted + others - Math.max(0, n.onHand), n.unit)} are missing.`,
      );
  }
  for (const [item, n] of powder) {
    const others = items.get(item) ?? 0;
    const short = Math.round(n.wanted - n.onHand);
    if (short > 0) words.push(`${n.name}: all containers together are short by ${amount(short, n.unit)}.`);
    else if (others > 0 && n.wanted + others - n.onHand >= 1)
      words.push(
        `${n.name}: with what other lots in hand still want, all containers together are short by ${amount(n.wanted + others - n.onHand, n.unit)}.`,
      );
  }
  return words;
}
