import type { PlanContext } from './planContext.ts';
import type { Plan, PlanLine } from './schemas.ts';

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
  item: string;
  name: string;
  code: string;
  unit: 'mg' | 'ul';
  wanted: number;
  onHand: number;
}

const amount = (quantity: number, unit: 'mg' | 'ul'): string =>
  quantity < 1_000_000
    ? `${(quantity / 1000).toFixed(2)} ${unit === 'mg' ? 'g' : 'mL'}`
    : `${(quantity / 1_000_000).toFixed(2)} ${unit === 'mg' ? 'kg' : 'L'}`;

/** What is short of one need, by itself and with what others want; '' when nothing is. */
function shortOf(n: Need, others: number, what: string, verb: string): string {
  const own = Math.round(n.wanted - Math.max(0, n.onHand));
  const together = Math.round(own + others);
  if (own > 0)
    return `${what} ${verb} short by ${amount(own, n.unit)}${others > 0 ? `, and by ${amount(together, n.unit)} with what other lots in hand still want` : ''}`;
  return others > 0 && together > 0
    ? `other lots in hand still want ${amount(others, n.unit)}; with theirs ${what} ${verb} short by ${amount(together, n.unit)}`
    : '';
}

/** One sentence for each material that is short: first the containers of the plan, then all there are where that differs. */
export function shortageWords(plan: Plan, context: PlanContext): string[] {
  const { containers, items } = context.othersWant;
  const needs = new Map<number, Need>();
  const powder = new Map<string, Need>();
  for (const line of plan.lines) {
    const { stockLotId, stockLotCode: code, name } = line;
    const unit = line.plannedVolumeUl === null ? 'mg' : 'ul';
    const item = line.kind === 'dye' ? `dye:${line.dyeId}` : `auxiliary:${line.auxiliaryId}`;
    if (stockLotId !== null && code !== null) {
      const known = needs.get(stockLotId) ?? { item, name, code, unit, wanted: 0, onHand: line.onHand ?? 0 };
      needs.set(stockLotId, { ...known, wanted: known.wanted + wantedOf(line) });
    }
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
    const known = powder.get(item) ?? { item, name, code: '', unit: unitBought, wanted: 0, onHand: held };
    powder.set(item, { ...known, wanted: known.wanted + own });
  }
  if (context.goodsStockLot !== null) {
    const { id, code, onHandQuantity: onHand } = context.goodsStockLot;
    needs.set(id, { item: 'goods', name: plan.fibreName, code, unit: 'mg', wanted: plan.dryMassMg, onHand });
  }
  const words = new Map<string, string[]>();
  const say = (n: Need, said: string): void => {
    if (said !== '') words.set(n.item, [...(words.get(n.item) ?? [`${n.name}:`]), said]);
  };
  for (const [id, n] of needs) say(n, shortOf(n, containers.get(id) ?? 0, `container ${n.code}`, 'is'));
  for (const [item, n] of powder) {
    const isTold = words.has(item);
    if (isTold && (context.stockLots.get(item)?.length ?? 0) < 2) continue;
    // What others want has been said of the container.
    const others = isTold && n.wanted > n.onHand ? 0 : (items.get(item) ?? 0);
    say(n, shortOf(n, others, 'all containers together', 'are'));
  }
  return [...words.values()].map(([name, ...said]) => `${name} ${said.join('; ')}.`);
}
