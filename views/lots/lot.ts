import { durationText } from '../../server/calc/quantity.ts';
import type { CostLineShown, EntryShown, LineShown, Lot, LotStatus, StepShown } from '../../server/lots/schemas.ts';
import type { Plan } from '../../server/plans/schemas.ts';
import { type Html, html, join, type Value } from '../html.ts';
import { called, nowCalled } from '../kit/called.ts';
import { colourChip } from '../kit/colourChip.ts';
import { fact, pageHead } from '../kit/pageHead.ts';
import {
  depthDyed,
  goodsMass,
  mass,
  money,
  percent,
  type Show,
  temperature,
  volume,
  water,
  when,
} from '../kit/show.ts';
import { amountText, cautionsList, estimateTable, warningsList, weighUpTables } from '../plans/weighUp.ts';
import { entryWords } from './entryWords.ts';
import { statusBadge } from './list.ts';
import { type TemperatureReading, temperaturePlot } from './temperaturePlot.ts';

interface CalledView {
  name: string;
  nowCalled: string | null;
}

export interface LotPageProps {
  lotId: number;
  number: string;
  status: LotStatus;
  plan: Plan;
  fibre: CalledView | null;
  method: CalledView | null;
  /** What an earlier version did not keep of it; null when nothing is wanting. */
  fromUpgrade: string | null;
  /** The zone of its closing, where the studio's is another now. */
  otherZone: string | null;
  dryMassMg: number;
  massFoundWords: string;
  plannedAt: number;
  plannedBy: string;
  startedAt: number | null;
  finishedAt: number | null;
  repeats: { id: number; number: string } | null;
  lines: readonly (LineShown & { nowCalled: string | null })[];
  steps: readonly StepShown[];
  log: readonly EntryShown[];
  temperatures: readonly TemperatureReading[];
  /** When something last happened: as far as an open step is drawn. */
  lastAt: number;
  /** What the record asks about it, made up already. */
  questions: Html | '';
  placement: Html | '';
  adjusted: boolean;
  outcome: Lot['outcome'];
  costLines: readonly CostLineShown[];
  unitCostMinor: number | null;
  /** Said of orders that were cancelled; empty when there are none. */
  cancelled: string;
  served: readonly {
    orderId: number;
    orderNumber: string;
    orderNumberNow: string;
    customerName: string;
    customerNameNow: string;
    description: string;
    tolerance: string | null;
    /** The lots that serve the same line, and the note on how their goods go together; null when it is the only one. */
    mixed: { lotNumbers: readonly string[]; mixingNote: string } | null;
  }[];
  colours: readonly {
    recipeId: number;
    recipeName: string;
    recipeNameNow: string;
    revisionNumber: number;
    depthPpm: number;
    depth: { weighedPpm: number; correctedPpm: number | undefined } | null;
    swatchId: number | null;
    swatchCode: string | null;
  }[];
  readings: readonly { hex: string | null; text: string; difference: string | null }[];
  swatches: readonly { id: number; code: string; name: string }[];
  mayWork: boolean;
  show: Show;
  readingForm: Value;
}

const kindNames: Record<string, string> = {
  dye: 'Dye',
  auxiliary: 'Auxiliaries',
  goods: 'Goods',
  labour: 'Labour',
  overhead: 'Overhead',
  other: 'Other',
};

const quantity = (c: Pick<CostLineShown, 'quantity' | 'quantityUnit'>, show: Show): string =>
  c.quantityUnit === 'mg'
    ? mass(show, c.quantity)
    : c.quantityUnit === 'ul'
      ? volume(show, c.quantity)
      : c.quantityUnit === 's'
        ? durationText({ durationS: c.quantity })
        : String(c.quantity);

const rateText = (c: CostLineShown, show: Show): string =>
  `${money(show, c.priceMinor)} per ${quantity({ quantity: c.perQuantity, quantityUnit: c.quantityUnit }, show)}`;

const correctionNote = (c: CostLineShown, p: LotPageProps): Html | false =>
  c.correction !== null &&
  html`<br><span class="fine">${
    c.correction === 'addition'
      ? 'forgotten, added'
      : c.correction === 'replacement'
        ? 'stands instead,'
        : 'takes the line back,'
  } ${when(p.show, c.writtenAt)}${c.reason && html`: “${c.reason}”`}</span>`;

const costTable = (p: LotPageProps): Html => {
  const total = p.costLines.reduce((sum, c) => sum + c.costMinor, 0);
  const kinds = [...new Set(p.costLines.map((c) => c.kind))];
  return html`<section class="panel" id="cost"><h2>Cost</h2>
  <dl class="figures"><div><dt>Actual</dt><dd class="big-number" data-total="${total}">${money(
    p.show,
    total,
  )}</dd></div><div><dt>Estimate</dt><dd class="big-number">${money(p.show, p.plan.estimateMinor)}</dd></div>${
    p.unitCostMinor !== null &&
    html`<div><dt>Per good piece</dt><dd class="big-number">${money(p.show, p.unitCostMinor)}</dd></div>`
  }</dl>
  <div class="table-wrap"><table class="plain"><thead><tr><th scope="col">For</th><th scope="col"
    class="num">Quantity</th><th scope="col" class="num">Rate</th><th scope="col" class="num">Cost</th></tr></thead>
  ${kinds.map((k) => {
    const own = p.costLines.filter((c) => c.kind === k);
    return html`<tbody><tr class="group"><th scope="rowgroup" colspan="3">${
      kindNames[k] ?? k
    }</th><td class="num"><b>${money(
      p.show,
      own.reduce((s, c) => s + c.costMinor, 0),
    )}</b></td></tr>${own.map(
      (c) =>
        html`<tr id="cost-line-${c.costLineId}"><td>${c.description}${
          c.wasted && html` <b>waste</b>`
        }${correctionNote(c, p)}</td><td class="num">${quantity(
          c,
          p.show,
        )}</td><td class="num fine">${rateText(c, p.show)}${
          c.valuation === 'movingAverage' && html`<br>moving average`
        }</td><td class="num">${money(p.show, c.costMinor)}</td></tr>`,
    )}</tbody>`;
  })}
  <tfoot><tr><th scope="row">The lot</th><td></td><td></td><td class="num">${money(
    p.show,
    total,
  )}</td></tr></tfoot></table></div>
  <p><a class="button" href="/costing/lots/${p.lotId}">Cost in detail: ledger, corrections, rework</a></p></section>`;
};

/** How far off the target a line came, by the figure that stands. */
const offText = (l: LineShown): string => {
  const pct = l.corrected !== null && l.target > 0 ? (100 * (l.corrected - l.target)) / l.target : l.differencePct;
  return pct === null ? '' : `${pct > 0 ? '+' : ''}${pct.toFixed(1)} %`;
};

/** The depth that a colour was dyed at, with the figures that it took the place of. */
const depthFact = (c: LotPageProps['colours'][number]): Html => {
  const isAsPlanned = depthDyed(c.depth?.weighedPpm ?? c.depthPpm) === depthDyed(c.depthPpm);
  const weighed = isAsPlanned ? percent(c.depthPpm) : depthDyed(c.depth?.weighedPpm ?? c.depthPpm);
  const stands = c.depth?.correctedPpm === undefined ? weighed : depthDyed(c.depth.correctedPpm);
  return html`at ${stands}${
    stands !== weighed && html`<br><span class="fine">corrected after the closing; ${weighed} by the scale</span>`
  }${!isAsPlanned && html`<br><span class="fine">planned ${percent(c.depthPpm)}</span>`}`;
};

/** What was weighed, under a line whose figure was corrected since. */
const byScale = (l: LineShown, text: (v: number) => string): Html | false =>
  l.corrected !== null &&
  html`<br><span class="fine">corrected after the closing; ${
    l.actual === undefined ? 'not weighed' : `${text(l.actual)} by the scale`
  }</span>`;

const planBesideActual = (
  p: LotPageProps,
): Html => html`<section class="panel"><h2>Weighed, plan beside actual</h2><div class="table-wrap"><table class="plain">
  <thead><tr><th scope="col">What</th><th scope="col" class="num">Planned</th>${
    p.adjusted && html`<th scope="col" class="num">Changed to</th>`
  }<th scope="col" class="num">Actual</th><th scope="col" class="num">Off</th><th scope="col">From</th></tr></thead>
  <tbody>${p.lines.map((l) => {
    const text = (v: number): string =>
      amountText({
        plannedMassMg: l.unit === 'mg' ? v : null,
        plannedVolumeUl: l.unit === 'ul' ? v : null,
        step: l.step,
      });
    return html`<tr><td><b>${l.code}</b> ${called(l.name, l.nowCalled)}${
      l.colourOrdinal !== null &&
      p.plan.colours.length > 1 &&
      html` <span class="fine">colour ${l.colourOrdinal}</span>`
    }${l.vessel && html` <span class="fine">${l.vessel}</span>`}${byScale(
      l,
      text,
    )}</td><td class="num">${text(l.planned)}</td>${
      p.adjusted && html`<td class="num">${l.target === l.planned ? '' : text(l.target)}</td>`
    }<td class="num"><b>${
      l.corrected === null ? (l.actual === undefined ? 'no reading' : text(l.actual)) : text(l.corrected)
    }</b></td><td class="num fine">${offText(l)}</td><td class="fine">${join(
      [...new Map(l.weighings.filter((w) => w.state === 'counts').map((w) => [w.containerId, w.container]))].map(
        ([id, code]) => html`<a href="/stock/${id}">${code}</a>`,
      ),
      ', ',
    )}</td></tr>`;
  })}</tbody></table></div></section>`;

const timeline = (p: LotPageProps): Html =>
  html`<section class="panel"><h2>What happened</h2>${
    p.log.length === 0
      ? html`<p>Nothing yet.</p>`
      : html`<ol class="log whole">${p.log.map(
          (e) =>
            html`<li class="${e.voidedReason !== null ? 'voided' : ''} kind-${e.kind}"><span class="log-at">${when(
              p.show,
              e.at,
            )}</span><span class="log-what">${entryWords(e)}${
              e.photo &&
              html`<br><a href="${e.photo.replace('/640', '/1600')}"><img src="${e.photo}" alt="Photo of ${when(
                p.show,
                e.at,
              )}" loading="lazy"></a>`
            }</span><span class="fine">${e.person}</span></li>`,
        )}</ol>`
  }</section>`;

const stepsTable = (p: LotPageProps): Html =>
  html`<section class="panel"><h2>Steps, plan beside actual</h2><div class="table-wrap">
    <table class="plain"><thead><tr><th scope="col">Step</th><th scope="col" class="num">Planned</th><th scope="col"
    class="num">Actual</th><th scope="col">When</th></tr></thead><tbody>${p.steps.map(
      (s) =>
        html`<tr><td>${s.name}${
          s.plannedTempC !== null && html` <span class="fine">${temperature(p.show, s.plannedTempC)}</span>`
        }</td><td class="num">${durationText({
          durationS: s.plannedDurationS,
        })}</td><td class="num">${
          s.startedAt !== null && s.endedAt !== null
            ? durationText({ durationS: Math.round((s.endedAt - s.startedAt) / 1000) })
            : s.state === 'waiting'
              ? ''
              : s.state
        }</td><td class="fine">${s.startedAt === null ? '' : when(p.show, s.startedAt)}</td></tr>`,
    )}</tbody></table></div>${temperaturePlot({
      readings: p.temperatures,
      steps: p.steps.flatMap((s) =>
        s.startedAt === null
          ? []
          : [{ ...s, startedAt: s.startedAt, endedAt: s.endedAt ?? Math.max(s.startedAt, p.lastAt) }],
      ),
      show: p.show,
    })}</section>`;

const actions = (p: LotPageProps): Html => html`${
  (p.status === 'planned' || p.status === 'onBench') &&
  html`<a class="button primary" href="/lots/${p.lotId}/bench">To the bench</a>`
}
  ${
    p.status === 'finished' &&
    p.mayWork &&
    html`<a class="button primary" href="/lots/${p.lotId}/swatch">Make a swatch
    of it</a>`
  }
  <a class="button" href="/lots/${p.lotId}/sheet">Bench sheet</a><a class="button"
    href="/lots/${p.lotId}/label">Label</a>
  ${
    p.mayWork &&
    (p.lines.some((l) => l.actual !== undefined)
      ? html`<a class="button"
    href="/lots/new?lotId=${p.lotId}&as=done">Repeat as done</a><a class="button"
    href="/lots/new?lotId=${p.lotId}">Repeat as planned</a>`
      : html`<a class="button"
    href="/lots/new?lotId=${p.lotId}">Repeat it</a>`)
  }`;

/** A lot: what it is, plan beside actual, what happened, what it cost.
 *  Long because it is one page, from top to bottom. */
export const lotPage = (p: LotPageProps): Html => html`${pageHead({
  title: html`Lot ${p.number} ${statusBadge(p.status)}`,
  crumb: { href: '/lots', label: 'Production log' },
  lead: html`${p.plan.goodsText} · ${p.method ? called(p.method.name, p.method.nowCalled) : p.plan.methodName}`,
  actions: actions(p),
})}
${p.cancelled && html`<div class="notice bad shelf-notice" role="status"><p>${p.cancelled}</p></div>`}
<section class="panel"><dl class="facts">
  ${fact(
    'Dry goods',
    html`${
      p.dryMassMg === p.plan.dryMassMg
        ? mass(p.show, p.dryMassMg)
        : html`${goodsMass(p.show, p.dryMassMg)} <span class="fine">planned ${mass(p.show, p.plan.dryMassMg)}</span>`
    }<br><span class="fine">${p.massFoundWords}</span>`,
  )}
  ${fact('Fibre', p.fibre ? called(p.fibre.name, p.fibre.nowCalled) : p.plan.fibreName)}
  ${fact('Pieces', p.plan.pieces ?? '—')}
  ${p.colours.map((c, i) =>
    fact(
      p.colours.length > 1 ? `Colour ${i + 1}` : 'Colour',
      html`<a
    href="/recipes/${c.recipeId}">${c.recipeName}</a>${nowCalled(c.recipeName, c.recipeNameNow)} <span
    class="fine">rev. ${c.revisionNumber}</span> ${depthFact(c)}${
      c.swatchId !== null &&
      html`<br><a
    href="/swatches/${c.swatchId}" class="fine">like swatch ${c.swatchCode}</a>`
    }`,
    ),
  )}
  ${
    p.plan.bathUl !== null &&
    fact(
      'Bath',
      html`${volume(p.show, p.plan.bathUl)}${
        p.plan.makeUpWaterUl !== null &&
        html`<br><span class="fine">${water(p.show, p.plan.makeUpWaterUl)} of it make-up water</span>`
      }`,
    )
  }
  ${p.plan.soakUl !== null && fact('Soak', volume(p.show, p.plan.soakUl))}
  ${
    p.served.length > 0 &&
    fact(
      'For',
      p.served.map(
        (s) =>
          html`<a href="/orders/${s.orderId}">${s.orderNumber}</a>${
            s.orderNumberNow !== s.orderNumber && html` <span class="fine">now ${s.orderNumberNow}</span>`
          } ${called(s.customerName, s.customerNameNow)}: ${s.description}${
            s.tolerance && html`<br><span class="fine">tolerance ${s.tolerance}</span>`
          }${
            s.mixed &&
            html`<br><span class="fine">together with lot ${s.mixed.lotNumbers
              .filter((n) => n !== p.number)
              .join(', ')}: ${s.mixed.mixingNote || 'nobody has noted how yet'}</span>`
          }<br>`,
      ),
    )
  }
  ${fact('Planned', html`${when(p.show, p.plannedAt)}<br><span class="fine">${p.plannedBy}</span>`)}
  ${
    p.finishedAt !== null &&
    fact(
      'Finished',
      html`${when(p.show, p.finishedAt)}${
        p.otherZone && html`<br><span class="fine">times of ${p.otherZone}, the studio’s zone of then</span>`
      }`,
    )
  }
  ${p.repeats && fact('Repeats', html`<a href="/lots/${p.repeats.id}">lot ${p.repeats.number}</a>`)}
  ${
    p.swatches.length > 0 &&
    fact(
      'Swatches of it',
      p.swatches.map((s) => html`<a href="/swatches/${s.id}">${s.code} ${s.name}</a> `),
    )
  }
</dl>${p.fromUpgrade && html`<p class="fine note-text">${p.fromUpgrade}</p>`}</section>
${p.questions}
${
  p.outcome &&
  html`<section class="panel"><h2>Outcome</h2><dl class="figures"><div><dt>First quality</dt><dd class="big-number">${
    p.outcome.firstQuality
  }</dd></div><div><dt>Seconds</dt><dd class="big-number">${
    p.outcome.seconds
  }</dd></div><div><dt>Rework</dt><dd class="big-number">${
    p.outcome.rework
  }</dd></div><div><dt>Scrap</dt><dd class="big-number">${p.outcome.scrap}</dd></div></dl>
  ${p.outcome.note && html`<p>${p.outcome.note}</p>`}${
    p.outcome.doDifferently && html`<p><b>Next time:</b> ${p.outcome.doDifferently}</p>`
  }</section>`
}
${
  (p.readings.length > 0 || p.status === 'finished') &&
  html`<section class="panel" id="colour"><h2>Colour that came out</h2>${
    p.readings.length > 0
      ? html`<ul class="readings">${p.readings.map(
          (r) =>
            html`<li>${colourChip({ hex: r.hex, label: r.text })}<span>${r.text}${
              r.difference && html`<br><b>${r.difference}</b>`
            }</span></li>`,
        )}</ul><p><a class="button" href="/swatches/near?lotId=${p.lotId}">Swatches near this colour</a>${
          p.colours.length === 1 && html` <a class="button" href="/lots/${p.lotId}/correction">Correct its shade</a>`
        }</p>`
      : html`<p>Not read yet. Judge it dry and cooled.</p>`
  }${p.readingForm}</section>`
}
${
  p.lines.some((l) => l.weighings.length > 0) || p.status === 'finished'
    ? planBesideActual(p)
    : html`<section class="panel weigh-up"><h2>Weigh-up</h2>${warningsList(p.plan.warnings)}${weighUpTables({
        plan: p.plan,
        show: p.show,
      })}${estimateTable({ plan: p.plan, show: p.show })}</section>`
}
${p.steps.length > 0 && stepsTable(p)}
${p.placement}
${timeline(p)}
${p.costLines.length > 0 && costTable(p)}
${p.status !== 'finished' && cautionsList(p.plan.cautions)}`;
