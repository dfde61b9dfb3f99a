import type { CostGroupShown, Grouping } from '../../server/costing/schemas.ts';
import { type Html, html } from '../html.ts';
import { nowCalled } from '../kit/called.ts';
import { chartLegend, chartPatterns, columnChart, stackBar } from '../kit/chart.ts';
import { type FormState, field, formNotice, type Option, selectField } from '../kit/field.ts';
import { emptyState, fact, pageHead } from '../kit/pageHead.ts';
import { goodsMass, money, type Show } from '../kit/show.ts';
import { KINDS, kindList, kindParts, kindsIn } from './costKinds.ts';

type GroupItem = Omit<CostGroupShown, 'labelNow' | 'lots'> & {
  /** Where that is called otherwise now. */
  nowCalled: string | null;
  /** Its own page, where it has one. */
  href: string | null;
  /** The lines that a figure of it is made of; '&kind=…' picks one kind. */
  linesHref: string;
  lotCount: number;
};

interface CostsPageProps {
  by: Grouping;
  form: FormState;
  choices: { customers: readonly Option[]; methods: readonly Option[]; fibres: readonly Option[] };
  tabs: readonly { by: Grouping; href: string }[];
  ranges: readonly { label: string; href: string; current: boolean }[];
  /** null when the filter could not be read. */
  groups: readonly GroupItem[] | null;
  /** Groups beyond those shown. */
  hidden: number;
  total: GroupItem | null;
  show: Show;
}

export const GROUPING_WORDS: Record<Grouping, { one: string; many: string; none: string }> = {
  lot: { one: 'Lot', many: 'lots', none: '' },
  order: { one: 'Order', many: 'orders', none: 'for no order' },
  customer: { one: 'Customer', many: 'customers', none: 'for no customer' },
  shade: { one: 'Shade', many: 'shades', none: 'no recipe' },
  method: { one: 'Method', many: 'methods', none: '' },
  fibre: { one: 'Fibre', many: 'fibres', none: '' },
  month: { one: 'Month', many: 'months', none: '' },
};

/** '2026-03' → 'March 2026', or 'Mar' where there is little room. */
export const monthWords = (month: string, short = false): string =>
  new Intl.DateTimeFormat('en-GB', {
    timeZone: 'UTC',
    month: short ? 'short' : 'long',
    ...(short ? {} : { year: 'numeric' as const }),
  }).format(Date.parse(`${month}-01T00:00:00Z`));

const signed = (show: Show, minor: number): string =>
  `${minor > 0 ? '+' : minor < 0 ? '−' : ''}${money(show, Math.abs(minor))}`;
const perUnit = (show: Show, minor: number | null): string => (minor === null ? '—' : money(show, Math.round(minor)));

const row = (g: GroupItem, p: CostsPageProps, most: number): Html => html`<tr>
  <th scope="row">${g.href ? html`<a href="${g.href}">${g.label}</a>` : g.label}${nowCalled(
    g.label,
    g.nowCalled,
  )}<br><span class="fine">${g.lotCount === 1 ? '1 lot' : `${g.lotCount} lots`} · ${goodsMass(
    p.show,
    g.dryMassMg,
  )}</span></th>
  <td class="cost-bar">${stackBar({
    label: `${g.label}: ${kindList
      .filter((k) => g.byKind[k] !== 0)
      .map((k) => `${KINDS[k].label} ${money(p.show, g.byKind[k])}`)
      .join(', ')}; estimate ${money(p.show, g.estimateMinor)}`,
    parts: kindParts(g.byKind),
    most,
    mark: g.estimateMinor,
  })}<p class="fine kind-links">${kindList
    .filter((k) => g.byKind[k] !== 0)
    .map(
      (k) => html`<span>${KINDS[k].label} <a href="${g.linesHref}&kind=${k}">${money(p.show, g.byKind[k])}</a></span>`,
    )}</p></td>
  <td class="num" data-label="Total"><a href="${g.linesHref}"><b>${money(p.show, g.totalMinor)}</b></a></td>
  <td class="num" data-label="Estimate"><a href="${g.linesHref}">${money(
    p.show,
    g.estimateMinor,
  )}</a><br><span class="fine">${signed(p.show, g.totalMinor - g.estimateMinor)}</span></td>
  <td class="num" data-label="A kilogram"><a href="${g.linesHref}">${perUnit(p.show, g.perKgMinor)}</a></td>
  <td class="num" data-label="A good piece"><a href="${g.linesHref}">${perUnit(
    p.show,
    g.perPieceMinor,
  )}</a><br><span class="fine">${g.goodPieces} good</span></td>
</tr>`;

const months = (groups: readonly GroupItem[], show: Show): Html =>
  columnChart({
    id: 'months',
    title: 'What was spent, month by month',
    description: groups
      .map((g) => `${monthWords(g.key)}: ${money(show, g.totalMinor)}, estimated ${money(show, g.estimateMinor)}`)
      .join('. '),
    columns: groups.map((g) => ({
      label: monthWords(g.key, true),
      parts: kindParts(g.byKind),
      mark: g.estimateMinor,
      title: `${monthWords(g.key)}: ${money(show, g.totalMinor)}, estimated ${money(show, g.estimateMinor)}`,
    })),
    axis: (value) => money(show, Math.round(value)).replace(/[.,]00$/, ''),
  });

const table = (p: CostsPageProps, groups: readonly GroupItem[], t: GroupItem): Html => {
  const most = Math.max(
    ...groups.map((g) =>
      Math.max(
        kindList.reduce((s, k) => s + Math.max(0, g.byKind[k]), 0),
        g.estimateMinor,
      ),
    ),
    1,
  );
  const words = GROUPING_WORDS[p.by];
  return html`${
    p.by === 'month' && html`<section class="panel" aria-label="Month by month">${months(groups, p.show)}</section>`
  }
<div class="panel"><table class="plain shelf costs"><caption class="visually-hidden">Cost
  by ${words.one.toLowerCase()}, with the estimate beside it</caption>
<thead><tr><th scope="col">${words.one}</th><th scope="col">Made up of</th><th scope="col" class="num">Total</th>
  <th scope="col" class="num">Estimate</th><th scope="col" class="num">A kilogram</th><th scope="col" class="num">A
    good piece</th></tr></thead>
<tbody>${groups.map((g) => row(g, p, most))}</tbody>
<tfoot><tr><th scope="row">All ${t.lotCount === 1 ? '1 lot' : `${t.lotCount} lots`}</th><td>${
    p.hidden > 0 && html`<span class="fine">${p.hidden} older ${words.many} are in the sum and not shown</span>`
  }</td><td class="num" data-label="Total"><a href="${t.linesHref}"><b>${money(
    p.show,
    t.totalMinor,
  )}</b></a></td><td class="num" data-label="Estimate">${money(p.show, t.estimateMinor)}<br><span class="fine">${signed(
    p.show,
    t.totalMinor - t.estimateMinor,
  )}</span></td><td class="num" data-label="A kilogram">${perUnit(
    p.show,
    t.perKgMinor,
  )}</td><td class="num" data-label="A good piece">${perUnit(
    p.show,
    t.perPieceMinor,
  )}<br><span class="fine">${t.goodPieces} good</span></td></tr></tfoot></table></div>`;
};

/** What dyeing costs, by what it was for. */
export const costsPage = (p: CostsPageProps): Html => {
  const { form } = p;
  return html`${chartPatterns()}${pageHead({
    title: 'Costing',
    lead: 'What dyeing cost, by what it was for, with the estimate beside it. Every figure opens to its lines.',
    actions: html`<a class="button" href="/costing/stock">What stock is worth</a>`,
  })}
<nav class="tabs" aria-label="By"><ul>${p.tabs.map(
    (t) =>
      html`<li><a href="${t.href}" ${
        t.by === p.by && html`aria-current="page"`
      }>By ${GROUPING_WORDS[t.by].one.toLowerCase()}</a></li>`,
  )}</ul></nav>
<details class="panel filter-panel" ${
    Object.keys(form.errors).length > 0 && html`open`
  }><summary>Days and conditions: <b>${
    form.typed['from'] || 'the beginning'
  } to ${form.typed['to'] || 'today'}</b></summary>
<p class="range-links">${p.ranges.map(
    (r) => html`<a href="${r.href}" ${r.current && html`aria-current="true"`}>${r.label}</a> `,
  )}</p>
<form method="get" action="/costing">${formNotice(
    form,
  )}<input type="hidden" name="by" value="${p.by}"><div class="grid history-filter">
  ${field({ name: 'from', label: 'From', form, type: 'date' })}
  ${field({ name: 'to', label: 'To, that day included', form, type: 'date' })}
  ${field({ name: 'order', label: 'Order no.', form, size: 'short' })}
  ${selectField({ name: 'customerId', label: 'Customer', form, options: p.choices.customers, none: 'any' })}
  ${selectField({ name: 'methodId', label: 'Method', form, options: p.choices.methods, none: 'any' })}
  ${selectField({ name: 'fibreId', label: 'Fibre', form, options: p.choices.fibres, none: 'any' })}
  <div class="field"><button class="primary">Show</button></div>
</div></form></details>
${
  p.groups !== null &&
  p.total !== null &&
  (p.groups.length === 0
    ? emptyState({
        title: 'No lot was closed in these days',
        words:
          'When a lot is finished its cost is written down once and for all, and shows here by shade, customer, method and month.',
        action: { href: '/costing?from=&to=', label: 'Show everything' },
      })
    : html`<section class="panel" aria-labelledby="sums"><h2 id="sums">Together</h2><dl class="facts">
  ${fact('Spent', html`<span class="big-number">${money(p.show, p.total.totalMinor)}</span>`)}
  ${fact(
    'Estimated',
    html`<span class="big-number">${money(p.show, p.total.estimateMinor)}</span><br><span class="fine">${signed(
      p.show,
      p.total.totalMinor - p.total.estimateMinor,
    )} against it</span>`,
  )}
  ${fact('A kilogram of goods', html`<span class="big-number">${perUnit(p.show, p.total.perKgMinor)}</span>`)}
  ${fact('A good piece', html`<span class="big-number">${perUnit(p.show, p.total.perPieceMinor)}</span>`)}
</dl>${chartLegend(kindsIn(p.groups.map((g) => g.byKind)), 'estimate')}</section>
${table(p, p.groups, p.total)}
<p class="fine">A good piece: what was spent, less what the seconds bring, over pieces of first quality. A lot for
  several orders is shared out by dry mass, else by pieces, else equally; a lot of several shades by the area of
  each.</p>`)
}`;
};
