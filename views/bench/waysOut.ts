import {
  confirmedWay,
  judgedLine,
  type WayOutOffer,
  type WeighUpAtScale,
  waysOutAtScale,
} from '../../server/calc/overWeighing.ts';
import { type Html, html } from '../html.ts';
import { amount, goodsMass, mass, type Show } from '../kit/show.ts';
import { benchForm } from './benchForm.ts';

/** The ways out of an over-weighed line. This file runs on both sides: the server renders the bench with it, and
 *  the bench itself does while there is no network (server/http/browserModules.ts serves it). */

/** What the bench carries for that, as JSON in an attribute. */
export interface ScaleView {
  weighUp: WeighUpAtScale;
  names: Readonly<Record<string, { code: string; name: string }>>;
  show: Show;
}

const TITLES: Record<WayOutOffer['kind'], string> = {
  moreGoods: 'Dye more goods',
  deeper: 'Let it be deeper',
  weighAgain: 'Discard and weigh again',
  addOthersToBath: 'It is in the bath: add the others',
  keepAsMade: 'Keep it as made',
};

const wayTitle = (w: WayOutOffer): string =>
  w.kind === 'weighAgain' && w.vessel === 'shared' ? 'Discard the whole cup' : TITLES[w.kind];

/** What a way out makes of the lot, in a sentence. */
function wayWords(w: WayOutOffer, show: Show): string {
  const wholeGrams = (mg: number): string => mass(show, Math.round(mg / 1000) * 1000);
  const depth = w.colourDepthPct === undefined ? '' : `${Number(w.colourDepthPct.toFixed(3))} % owg`;
  const shares = w.colourSharesPct?.map((s) => s.toFixed(1)).join(' / ') ?? '';
  switch (w.kind) {
    case 'moreGoods':
      return `Add ${wholeGrams(w.extraGoodsMg)} of goods, to ${wholeGrams(w.goodsDryMassMg)}. Same depth, same hue.`;
    case 'deeper':
      return `Same goods, the colour at ${depth}. Same hue, a deeper shade.`;
    case 'weighAgain':
      return w.vessel === 'shared'
        ? 'All that is in this colour’s cup goes. It is booked as waste.'
        : 'This reading goes. It is booked as waste.';
    case 'addOthersToBath':
      return `Nothing can be taken out. The other dyes grow with it: same hue, the colour at ${depth}.`;
    case 'keepAsMade':
      return `The rest as planned: the hue moves${shares && `, the shares become ${shares}`}.`;
  }
}

const ACTS = { weigh: 'weigh', done: 'stays' } as const;

/** What changes, line by line: only that is worth reading with a spoon in the hand. */
const wayLines = (w: WayOutOffer, { weighUp, names }: ScaleView): Html | '' => {
  const rows = w.lines.flatMap((after) => {
    const line = weighUp.lines.find((l) => l.lineId === after.lineId);
    if (!line || (after.targetRounded === line.target && after.act !== 'addDifference')) return [];
    const { code = '', name = '' } = names[after.lineId] ?? {};
    const addsNothing = after.act === 'addDifference' && after.toAdd < line.step / 2;
    return [
      html`<tr><td>${code} ${name}</td><td class="num">${amount(
        line.unit,
        after.targetRounded,
        line.step,
      )}</td><td class="fine">${
        addsNothing
          ? ACTS.done
          : after.act === 'addDifference'
            ? `add ${amount(line.unit, after.toAdd, line.step)}`
            : ACTS[after.act]
      }</td></tr>`,
    ];
  });
  return rows.length > 0 ? html`<table class="plain"><tbody>${rows}</tbody></table>` : '';
};

export interface WaysOutProps {
  lotId: number;
  order: string;
  scale: ScaleView;
  lineId: string;
  /** An id for the form of a way, which is named by `way`. */
  newId: (way: string) => string;
}

/** What to do about a line that is over its target; nothing where it is not. */
export const waysOutPanel = (p: WaysOutProps): Html | '' => {
  const { weighUp, names, show } = p.scale;
  const line = weighUp.lines.find((l) => l.lineId === p.lineId);
  if (!line) return '';
  const { verdict } = judgedLine({ line, tolerancePct: weighUp.tolerancePct });
  if (verdict?.verdict !== 'over') return '';
  const ways = (['dry', 'inBath'] as const).flatMap((stage) =>
    waysOutAtScale({ weighUp, overLineId: p.lineId, stage }),
  );
  return html`<section class="ways-out" aria-label="Ways out">
  <h3>Over by ${amount(line.unit, verdict.difference, line.step)} (${verdict.differencePct.toFixed(
    1,
  )} %). What now?</h3>
  <div class="ways">${ways.map((w) =>
    benchForm(
      { lotId: p.lotId, order: p.order, newId: () => p.newId(`${p.lineId} ${w.kind} ${w.stage} ${w.vessel}`) },
      'adjustments',
      html`<input type="hidden" name="componentId" value="${p.lineId}"><input type="hidden" name="way"
        value="${w.kind}"><input type="hidden" name="stage" value="${w.stage}"><input type="hidden" name="vessel"
        value="${w.vessel}"><input type="hidden" name="confirmed"
        value="${JSON.stringify(confirmedWay({ weighUp, overLineId: p.lineId, way: w }))}">
      <h4>${wayTitle(w)}</h4><p>${wayWords(w, show)}</p>
      ${wayLines(w, p.scale)}
      <button>${wayTitle(w)}</button>`,
      { className: 'way', words: `${names[p.lineId]?.name ?? ''}: ${wayTitle(w)}. ${wayWords(w, show)}` },
    ),
  )}</div></section>`;
};

/** The goods that hold now, and those planned where they differ. */
export const goodsNow = (show: Show, dryMassMg: number, plannedDryMassMg: number): Html =>
  html`${
    dryMassMg === plannedDryMassMg
      ? mass(show, dryMassMg)
      : html`${goodsMass(show, dryMassMg)} <span class="fine">(planned ${mass(show, plannedDryMassMg)})</span>`
  }`;
