import type { ConfirmedWay, WayOutOffer } from '../calc/overWeighing.ts';
import { massText, volumeText } from '../calc/quantity.ts';
import type { WayOutKind } from '../calc/weighing.ts';
import type { Actor } from '../deps.ts';
import type { Bench, BenchLine } from '../lots/benchState.ts';

const WAYS: Record<WayOutKind, string> = {
  moreGoods: 'dye more goods',
  deeper: 'let it be deeper',
  weighAgain: 'discard and weigh again',
  addOthersToBath: 'add the others to the bath',
  keepAsMade: 'keep it as made',
};

/** A way out as it was chosen: ‘dye more goods’, × 1.10. */
export function chosenWords(
  way: WayOutKind,
  confirmed: Pick<ConfirmedWay, 'goodsFactor' | 'depthFactor'> | null,
): string {
  const factor = confirmed === null ? 1 : Math.max(confirmed.goodsFactor, confirmed.depthFactor);
  return `‘${WAYS[way]}’${factor === 1 ? '' : ` (× ${factor.toFixed(3)})`}`;
}

const amount = (line: BenchLine, value: number): string => {
  const digits = Math.max(0, 3 - Math.floor(Math.log10(Math.max(1, line.step))));
  return `${(value / 1000).toFixed(digits)} ${line.unit === 'mg' ? 'g' : 'mL'}`;
};

const stands = (line: BenchLine, actual: number | null | undefined): string =>
  actual === null || actual === undefined ? 'nothing in its cup' : amount(line, actual);

/** The weighings of a line that make up what was not seen: the others' where they add up to it, else the newest; none where neither
 *  does. What a phone sends late stands after what another sent before it, so the newest are not always the ones. */
function weighedSince(
  line: BenchLine,
  was: number,
  by: Actor,
  countOf: (w: BenchLine['weighings'][number]) => number,
): string {
  const missing = (line.actual ?? 0) - was;
  const counting = line.weighings.filter((w) => !w.voided && !w.discarded);
  const isIt = (some: typeof counting): boolean =>
    some.length > 0 && Math.abs(some.reduce((sum, w) => sum + countOf(w), 0) - missing) <= line.step / 2 + 1;
  const newest = counting.map((_, i) => counting.slice(i));
  const since = [counting.filter((w) => w.personName !== by.name), ...newest].find(isIt);
  if (!since) return '';
  const told = since.map(
    (w) =>
      `${w.personName} has weighed ${w.massMg === null ? volumeText({ volumeUl: w.volumeUl ?? 0, system: 'metric' }) : massText({ massMg: w.massMg, system: 'metric' })} too`,
  );
  return `, since ${told.join(' and ')}`;
}

/** The question that a parked way out asks: what was chosen, on which figures, and how they stand now. */
export function parkedWords(input: {
  bench: Bench;
  over: BenchLine;
  way: WayOutKind;
  offered: WayOutOffer | undefined;
  confirmed: ConfirmedWay | null;
  by: Actor;
  countOf: (w: BenchLine['weighings'][number]) => number;
}): string {
  const { bench, over, confirmed, by } = input;
  const { name } = over.component;
  const chose = `${by.name} chose ${chosenWords(input.way, confirmed)}`;
  const left = 'Nothing has been changed. Choose again?';
  if (confirmed === null)
    return `${chose} for ${name} without the figures it was chosen on: the page was an older one. ${name} stands at ${stands(over, over.actual)} now. ${left}`;
  const seen = confirmed.lines.find((l) => l.lineId === String(over.component.id));
  const was = seen?.actual ?? null;
  const begin = `${chose} when ${name} stood at ${stands(over, was)}.`;
  if (was !== (over.actual ?? null)) {
    const more = (over.actual ?? 0) > (was ?? 0);
    const why = more ? weighedSince(over, was ?? 0, by, input.countOf) : ', since a reading was voided or discarded';
    return `${begin} It stands at ${stands(over, over.actual)} now${why}. ${left}`;
  }
  if (seen !== undefined && seen.target !== over.target)
    return `${begin} ${amount(over, seen.target)} of it was wanted then; ${amount(over, over.target)} is wanted now, since another choice has been made meanwhile. ${left}`;
  if (bench.dryMassMg !== confirmed.goodsDryMassMg)
    return `${begin} The goods were ${massText({ massMg: confirmed.goodsDryMassMg, system: 'metric' })} then and are ${massText({ massMg: bench.dryMassMg, system: 'metric' })} now. ${left}`;
  const other = input.offered
    ? bench.lines.find((l) => {
        const before = confirmed.lines.find((x) => x.lineId === String(l.component.id));
        return before?.target !== l.target || before.actual !== (l.actual ?? null);
      })
    : undefined;
  return other
    ? `${begin} ${other.component.name} has changed since: ${stands(other, other.actual)}${other.actual === undefined ? '' : ' in the cup'}, ${amount(other, other.target)} wanted. ${left}`
    : `${begin} It would make other targets of the lines now than were shown then. ${left}`;
}
