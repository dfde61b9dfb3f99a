import type { ShadeCost } from '../../server/costing/schemas.ts';
import { type Html, html } from '../html.ts';
import { chartLegend, chartPatterns, columnChart, effectBar, stackBar } from '../kit/chart.ts';
import { emptyForm, type FormState, fieldError, selectField } from '../kit/field.ts';
import { emptyState, pageHead } from '../kit/pageHead.ts';
import { day, depthDyed, goodsMass, money, percent, type Show } from '../kit/show.ts';
import { KINDS, kindList, kindParts, kindsIn } from './costKinds.ts';
import { lineQuantity } from './lines.ts';

type ShadeLotItem = Omit<ShadeCost['lots'][number], 'finishedAt'> & {
  finishedOn: string;
  goodsText: string;
  fibreName: string;
  methodName: string;
};
type Change = NonNullable<ShadeCost['change']>;

interface ShadePageProps {
  recipeId: number;
  name: string;
  lots: readonly ShadeLotItem[];
  form: FormState;
  change: (Change & { earlier: ShadeLotItem; later: ShadeLotItem }) | null;
  show: Show;
}

const signed = (show: Show, minor: number): string =>
  minor === 0 ? money(show, 0) : `${minor > 0 ? '+' : '−'}${money(show, Math.abs(minor))}`;

const series = (p: ShadePageProps): Html => {
  const most = Math.max(...p.lots.map((l) => l.perKg), 1);
  return html`<section class="panel"><h2>A kilogram, lot by lot</h2>${chartLegend(
    kindsIn(p.lots.map((l) => l.perKgByKind)),
  )}
${columnChart({
  id: 'series',
  title: `What a kilogram of ${p.name} cost, lot by lot`,
  description: p.lots
    .map((l) => `Lot ${l.number}, ${day(l.finishedOn)}: ${money(p.show, Math.round(l.perKg))} a kilogram`)
    .join('. '),
  columns: p.lots.map((l, i) => ({
    label: String(i + 1),
    parts: kindParts(l.perKgByKind),
    title: `Lot ${l.number}: ${money(p.show, Math.round(l.perKg))} a kilogram`,
  })),
  axis: (value) => money(p.show, Math.round(value)).replace(/[.,]00$/, ''),
  caption: 'Numbered as in the table, the oldest first.',
})}
<table class="plain shelf costs"><caption class="visually-hidden">The same as a table</caption><thead><tr>
  <th scope="col">Lot</th><th scope="col">Made up of</th><th scope="col" class="num">A kilogram</th><th scope="col"
    class="num">The lot</th></tr></thead><tbody>${p.lots.map(
      (l, i) => html`<tr><th scope="row"><span class="fine">${i + 1}</span> <a
      href="/costing/lots/${l.lotId}">${l.number}</a><br><span
      class="fine">${day(l.finishedOn)} · ${goodsMass(p.show, l.dryMassMg)} ${l.fibreName} at ${depthDyed(
        l.dyedDepthPpm,
      )}${
        depthDyed(l.dyedDepthPpm) !== depthDyed(l.depthPpm) && ` (planned ${percent(l.depthPpm)})`
      }${l.shadeCount > 1 && `, one of ${l.shadeCount} shades`}</span></th>
<td class="cost-bar">${stackBar({
        label: kindList
          .filter((k) => l.perKgByKind[k] !== 0)
          .map((k) => `${KINDS[k].label} ${money(p.show, Math.round(l.perKgByKind[k]))}`)
          .join(', '),
        parts: kindParts(l.perKgByKind),
        most,
      })}</td>
<td class="num" data-label="A kilogram"><b>${money(
        p.show,
        Math.round(l.perKg),
      )}</b></td><td class="num" data-label="The lot"><a href="/costing/lots/${l.lotId}">${money(
        p.show,
        l.totalMinor,
      )}</a></td></tr>`,
    )}</tbody></table></section>`;
};

const what = (c: Change['lines'][number]): string => c.label || KINDS[c.kind].label;

/** Effects by their reason, for the sentence and the first bars. */
export function reasonsOf(lines: readonly Change['lines'][number][]): { label: string; minor: number }[] {
  const isMaterial = (c: Change['lines'][number]): boolean => c.kind === 'dye' || c.kind === 'auxiliary';
  const sum = (of: (c: Change['lines'][number]) => number): number => lines.reduce((total, c) => total + of(c), 0);
  const both = (c: Change['lines'][number]): number => c.priceEffectMinor + c.quantityEffectMinor;
  return [
    { label: 'Prices of dyes and auxiliaries', minor: sum((c) => (isMaterial(c) ? c.priceEffectMinor : 0)) },
    { label: 'Quantities of dyes and auxiliaries', minor: sum((c) => (isMaterial(c) ? c.quantityEffectMinor : 0)) },
    { label: 'Goods', minor: sum((c) => (c.kind === 'goods' ? both(c) : 0)) },
    { label: 'Labour: hours on a kilogram', minor: sum((c) => (c.kind === 'labour' ? c.quantityEffectMinor : 0)) },
    { label: 'Labour: rate an hour', minor: sum((c) => (c.kind === 'labour' ? c.priceEffectMinor : 0)) },
    { label: 'Overhead', minor: sum((c) => (c.kind === 'overhead' ? both(c) : 0)) },
    { label: 'Other', minor: sum((c) => (c.kind === 'other' ? both(c) : 0)) },
  ].filter((r) => r.minor !== 0);
}

const explanation = (p: ShadePageProps): Html | '' => {
  const c = p.change;
  if (c === null) return '';
  const { show } = p;
  const reasons = reasonsOf(c.lines);
  const most = Math.max(...reasons.map((r) => Math.abs(r.minor)), 1);
  const byWeight = [...reasons].sort((x, y) => Math.abs(y.minor) - Math.abs(x.minor));
  const withIt = byWeight.find((r) => Math.sign(r.minor) === Math.sign(c.differenceMinor));
  const against = byWeight.find((r) => Math.sign(r.minor) === -Math.sign(c.differenceMinor));
  const said = (r: { label: string; minor: number }): string =>
    `${r.label.charAt(0).toLowerCase()}${r.label.slice(1)}, ${signed(show, r.minor)}`;
  const verdict =
    c.differenceMinor === 0
      ? 'A kilogram cost the same.'
      : `A kilogram cost ${money(show, Math.abs(c.differenceMinor))} ${c.differenceMinor > 0 ? 'more' : 'less'}.`;
  const perKg = (quantity: number, unit: Change['lines'][number]['unit']): string =>
    quantity === 0 ? 'none' : lineQuantity(show, unit, Math.round(quantity));
  return html`<p class="verdict"><b>${verdict}</b> ${withIt && `First of all ${said(withIt)}.`}${
    withIt && against && ` Against it ${said(against)}.`
  }${
    c.later.dryMassMg !== c.earlier.dryMassMg &&
    ` Lot ${c.later.number} was ${goodsMass(show, c.later.dryMassMg)}, lot ${c.earlier.number} ${goodsMass(
      show,
      c.earlier.dryMassMg,
    )}: what a lot takes whatever its size weighs more on a small one.`
  }</p>
<table class="plain shelf costs"><caption class="visually-hidden">Reasons, adding to the
  difference</caption><thead><tr><th scope="col">Reason</th><th scope="col">Less · more</th><th scope="col"
  class="num">A kilogram</th></tr></thead>
<tbody><tr><th scope="row"><a href="/costing/lots/${c.earlier.lotId}">Lot ${c.earlier.number}</a>, ${day(
    c.earlier.finishedOn,
  )}</th><td></td><td class="num" data-label="A kilogram"><b>${money(show, c.earlierMinorPerKg)}</b></td></tr>
${reasons.map(
  (r) =>
    html`<tr><th scope="row">${r.label}</th><td class="cost-bar">${effectBar({
      label: `${r.label}: ${signed(show, r.minor)}`,
      value: r.minor,
      most,
    })}</td><td class="num" data-label="A kilogram">${signed(show, r.minor)}</td></tr>`,
)}</tbody>
<tfoot><tr><th scope="row"><a href="/costing/lots/${c.later.lotId}">Lot ${c.later.number}</a>, ${day(
    c.later.finishedOn,
  )}</th><td></td><td class="num" data-label="A kilogram"><b>${money(
    show,
    c.laterMinorPerKg,
  )}</b></td></tr></tfoot></table>
<h3>Thing by thing</h3>
<table class="plain shelf"><caption class="visually-hidden">Effect of price and quantity of each thing on a
  kilogram</caption><thead><tr><th scope="col">Thing</th><th scope="col" class="num">On a kilogram then</th>
  <th scope="col" class="num">and later</th><th scope="col" class="num">By its price</th><th scope="col" class="num">By
    its quantity</th></tr></thead><tbody>${c.lines.map(
      (l) =>
        html`<tr><th scope="row">${what(l)}</th><td class="num" data-label="On a kilogram then">${perKg(
          l.earlierQuantityPerKg,
          l.unit,
        )}</td><td class="num" data-label="and later">${perKg(
          l.laterQuantityPerKg,
          l.unit,
        )}</td><td class="num" data-label="By its price">${signed(
          show,
          l.priceEffectMinor,
        )}</td><td class="num" data-label="By its quantity">${signed(show, l.quantityEffectMinor)}</td></tr>`,
    )}</tbody><tfoot><tr><th scope="row" colspan="3">Together ${signed(
      show,
      c.differenceMinor,
    )}</th><td class="num" data-label="By prices">${signed(
      show,
      c.lines.reduce((s, l) => s + l.priceEffectMinor, 0),
    )}</td><td class="num" data-label="By quantities">${signed(
      show,
      c.lines.reduce((s, l) => s + l.quantityEffectMinor, 0),
    )}</td></tr></tfoot></table>
<p class="fine">By its price: the change of the price at the mean of both quantities. By its quantity: the change of
  the quantity at the mean of both prices; a dye that only one lot used is quantity. Solutions count as the powder in
  them.</p>`;
};

/** What a shade costs, and why that changed. */
export const shadePage = (p: ShadePageProps): Html => {
  const options = p.lots.map((l) => ({ value: String(l.lotId), label: `${l.number}, ${day(l.finishedOn)}` }));
  return html`${chartPatterns()}${pageHead({
    title: `What ${p.name} costs`,
    crumb: { href: '/costing?by=shade', label: 'Costing by shade' },
    actions: html`<a class="button" href="/recipes/${p.recipeId}">Recipe</a>`,
  })}
${
  p.lots.length === 0
    ? emptyState({
        title: 'No lot of this shade is closed yet',
        words: 'When one is finished, what a kilogram of it cost shows here.',
      })
    : html`${series(p)}
<section class="panel" id="change"><h2>Why did it change?</h2>${
        p.lots.length === 1
          ? html`<p>One lot so far: the next one can be held against it.</p>`
          : html`<form method="get" action="/costing/shades/${p.recipeId}#change" class="grid history-filter">
  ${selectField({ name: 'earlier', label: 'From', form: p.form ?? emptyForm, options })}
  ${selectField({ name: 'later', label: 'To', form: p.form ?? emptyForm, options })}
  <div class="field"><button class="primary">Explain</button></div></form>${fieldError('', p.form)}${explanation(p)}`
      }</section>`
}`;
};
