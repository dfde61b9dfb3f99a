import { durationText } from '../../server/calc/quantity.ts';
import type { Plan, PlanLine } from '../../server/plans/schemas.ts';
import { type Html, html } from '../html.ts';
import { ids } from '../ids.ts';
import { grams, mass, millilitres, money, percent, type Show, temperature, volume, water } from '../kit/show.ts';

/** What to weigh or measure, as its scale or measure shows it. */
export const amountText = (line: Pick<PlanLine, 'plannedMassMg' | 'plannedVolumeUl' | 'step'>): string =>
  line.plannedMassMg !== null ? grams(line.plannedMassMg, line.step) : millilitres(line.plannedVolumeUl, line.step);

const signed = (n: number, digits = 2): string => `${n > 0 ? '+' : n < 0 ? '−' : '±'}${Math.abs(n).toFixed(digits)}`;

/** Exact grams with enough digits to check by hand. */
const exactText = (line: PlanLine): string => {
  if (line.exactUg === null) return '';
  const g = line.exactUg / 1e6;
  return `${Number(g.toFixed(6))} g`;
};

const container = (line: PlanLine, choices: readonly { id: number; label: string }[] | undefined): Html | string => {
  if (!choices || choices.length < 2)
    return line.stockLotCode ?? (line.concPpm === null ? 'none in stock' : 'solution to make');
  const name = line.kind === 'dye' ? `container.dye:${line.dyeId}` : `container.auxiliary:${line.auxiliaryId}`;
  return html`<select name="${name}" aria-label="Container of ${line.name}">${choices.map(
    (c) => html`<option value="${c.id}" ${c.id === line.stockLotId && html`selected`}>${c.label}</option>`,
  )}</select>`;
};

export interface WeighUpProps {
  plan: Plan;
  show: Show;
  /** Containers to choose from, by `dye:ID` / `auxiliary:ID`; left out where nothing can be chosen (paper, lot
   *  page). */
  containers?: ReadonlyMap<string, readonly { id: number; label: string }[]>;
}

const lineRow = (line: PlanLine, props: WeighUpProps): Html => html`<tr>
  <td><b>${line.code}</b> ${line.name}<br><span class="fine">${line.basisText}${
    line.strengthPpm !== 1_000_000 && html` · strength ${percent(line.strengthPpm)}`
  }</span></td>
  <td class="num"><span class="weigh">${amountText(line)}</span>${
    line.concPpm !== null && html`<br><span class="fine">of ${percent(line.concPpm)} solution</span>`
  }</td>
  <td class="num fine">${exactText(line)}${
    line.roundingErrorPct !== null &&
    line.exactUg !== null &&
    html`<br>${signed(line.roundingErrorPct)} %${
      line.halfDigitErrorPct !== null &&
      html` · ½ digit ${line.halfDigitErrorPct.toFixed(line.halfDigitErrorPct < 1 ? 2 : 1)} %`
    }`
  }</td>
  <td>${container(
    line,
    props.containers?.get(line.kind === 'dye' ? `dye:${line.dyeId}` : `auxiliary:${line.auxiliaryId}`),
  )}${line.short > 0 && line.stockLotCode && html`<br><b class="is-short">short</b>`}</td>
</tr>`;

const linesTable = (
  lines: readonly PlanLine[],
  caption: Html | string,
  props: WeighUpProps,
  total: Html | null,
): Html => html`<div class="table-wrap"><table class="plain weigh-table"><caption>${caption}</caption>
  <thead><tr><th scope="col">What</th><th scope="col" class="num">Weigh</th><th scope="col" class="num">Exact,
    error</th><th scope="col">Container</th></tr></thead>
  <tbody>${lines.map((l) => lineRow(l, props))}</tbody>${total}</table></div>`;

/** The weigh-up of a plan, colour by colour, then soak and bath. */
export const weighUpTables = (props: WeighUpProps): Html => {
  const { plan, show } = props;
  const dyes = plan.lines.filter((l) => l.kind === 'dye');
  const vessel = (v: 'soak' | 'bath'): PlanLine[] => plan.lines.filter((l) => l.kind === 'auxiliary' && l.vessel === v);
  const many = plan.colours.length > 1;
  return html`${plan.colours.map((c) => {
    const own = dyes.filter((l) => l.colourOrdinal === c.ordinal);
    const powder = own.reduce((sum, l) => sum + (l.plannedMassMg ?? 0), 0);
    const finest = Math.min(...own.filter((l) => l.plannedMassMg !== null).map((l) => l.step));
    return linesTable(
      own,
      html`<b>${many && html`${c.ordinal}. `}${c.recipeName}</b> <span class="fine">revision ${
        c.revisionNumber
      }</span> at <b>${percent(c.depthPpm)}</b>${
        many &&
        html`, ${
          plan.coverage === 'eachOverAll' ? 'over all of the piece' : html`over ${percent(c.sharePpm)} of it`
        } (${c.depthOverAllPct.toFixed(2)} % of the whole)`
      }${c.placement && html` · ${c.placement}`}`,
      props,
      own.filter((l) => l.plannedMassMg !== null).length > 1
        ? html`<tfoot><tr><th scope="row">Powder of this colour</th><td class="num">${grams(
            powder,
            Number.isFinite(finest) ? finest : 10,
          )}</td><td></td><td></td></tr></tfoot>`
        : null,
    );
  })}
  ${
    vessel('soak').length > 0 &&
    linesTable(vessel('soak'), html`<b>Soak</b> of ${volume(show, plan.soakUl)}`, props, null)
  }
  ${
    (vessel('bath').length > 0 || plan.bathUl !== null) &&
    linesTable(
      vessel('bath'),
      html`<b>Bath</b>${
        plan.bathUl !== null &&
        html` of ${volume(show, plan.bathUl)} (${Number((plan.bathUl / plan.dryMassMg).toFixed(1))} L/kg)`
      }`,
      props,
      plan.makeUpWaterUl === null
        ? null
        : html`<tfoot><tr><th scope="row">Water to make up the bath</th><td class="num weigh">${water(
            show,
            plan.makeUpWaterUl,
          )}</td><td class="fine num">all solutions are part of it</td><td></td></tr></tfoot>`,
    )
  }`;
};

const summary = ({ plan, show }: WeighUpProps): Html => html`<dl class="figures">
  <div><dt>Dry goods</dt><dd class="big-number">${mass(show, plan.dryMassMg)}</dd></div>
  <div><dt>Depth over the whole</dt><dd class="big-number">${Number(
    plan.depthOverAllPct.toFixed(3),
  )} <small>% owg</small></dd></div>
  <div><dt>Estimate</dt><dd class="big-number">${money(show, plan.estimateMinor)}</dd></div>
</dl>
${
  (plan.lossPpm > 0 || plan.uptakePpm !== 1_000_000) &&
  html`<p class="fine">Weighed: ${plan.weighedPct.toFixed(3)} % of the goods. ${
    plan.lossPpm > 0 &&
    html`Loss allowance ${percent(plan.lossPpm)}: ${(plan.lossMassUg / 1e6).toFixed(
      2,
    )} g of it is there only because some is lost. `
  }${
    plan.uptakePpm !== 1_000_000 && html`This cloth needs ${percent(plan.uptakePpm, 0)} of what the library cloth does.`
  }</p>`
}`;

export const warningsList = (warnings: readonly string[]): Html | '' =>
  warnings.length === 0
    ? ''
    : html`<ul class="warnings" aria-label="Warnings">${warnings.map((w) => html`<li>${w}</li>`)}</ul>`;

export const cautionsList = (
  cautions: readonly string[],
): Html => html`<section class="cautions"><h3>Cautions</h3><ul>${cautions.map((c) => html`<li>${c}</li>`)}</ul>
  <p class="fine">The safety data sheet of the product in hand and your local rules decide.</p></section>`;

const schedule = ({ plan, show }: WeighUpProps): Html | '' => {
  if (plan.steps.length === 0) return '';
  const total = plan.steps.reduce((sum, s) => sum + s.durationS, 0);
  return html`<h3>Schedule, ${durationText({ durationS: total })} in all</h3><ol class="schedule">${plan.steps.map(
    (s) =>
      html`<li><b>${s.name}</b> ${durationText({ durationS: s.durationS })}${
        s.tempC !== null && html` at ${temperature(show, s.tempC)}`
      }${s.handsOnS > 0 && html` <span class="fine">${durationText({ durationS: s.handsOnS })} of hands</span>`}</li>`,
  )}</ol>`;
};

const quantityText = (e: Plan['estimate'][number], show: Show): string =>
  e.quantityUnit === 'mg'
    ? mass(show, e.quantity)
    : e.quantityUnit === 'ul'
      ? volume(show, e.quantity)
      : durationText({ durationS: e.quantity });

export const estimateTable = ({
  plan,
  show,
}: WeighUpProps): Html => html`<details class="estimate"><summary>Estimated cost ${money(
  show,
  plan.estimateMinor,
)}</summary><div class="table-wrap"><table class="plain">
  <thead><tr><th scope="col">For</th><th scope="col" class="num">Quantity</th><th scope="col"
    class="num">Cost</th></tr></thead>
  <tbody>${plan.estimate.map(
    (e) =>
      html`<tr><td>${e.description}</td><td class="num">${quantityText(
        e,
        show,
      )}</td><td class="num">${money(show, e.costMinor)}</td></tr>`,
  )}</tbody>
  <tfoot><tr><th scope="row">Estimate</th><td></td><td class="num">${money(
    show,
    plan.estimateMinor,
  )}</td></tr></tfoot></table></div>${
    plan.valuation === 'movingAverage' &&
    html`<p class="fine">Materials at the moving average, as the lot will be valued; goods by their container.</p>`
  }</details>`;

/** The live fragment beside the plan form. */
export const weighUp = (
  props: WeighUpProps,
): Html => html`<section id="${ids.weighUp}" class="panel weigh-up" aria-live="polite" aria-label="Weigh-up">
  <h2>Weigh-up</h2>${summary(props)}${warningsList(props.plan.warnings)}${weighUpTables(
    props,
  )}${schedule(props)}${estimateTable(props)}${cautionsList(props.plan.cautions)}
</section>`;

/** What the fragment says while the form is not complete. */
export const weighUpWaiting = (
  missing: readonly string[],
): Html => html`<section id="${ids.weighUp}" class="panel weigh-up" aria-live="polite" aria-label="Weigh-up">
  <h2>Weigh-up</h2><p>It appears here as you type.</p>${
    missing.length > 0 && html`<p>Still wanted:</p><ul>${missing.map((m) => html`<li>${m}</li>`)}</ul>`
  }
</section>`;
