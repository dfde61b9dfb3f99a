import type { WeighUpLine, WeighUpShown } from '../../server/swatches/schemas.ts';
import { type Html, html } from '../html.ts';
import { colourChip } from '../kit/colourChip.ts';
import type { FieldErrors } from '../kit/field.ts';
import { type FormState, field, type Option, selectField } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { grams, mass, millilitres, percent, type Show } from '../kit/show.ts';

const signedPct = (pct: number): string =>
  `${pct < 0 ? '−' : '+'}${Math.abs(pct) < 9.995 ? Math.abs(pct).toFixed(2) : Math.abs(pct).toFixed(0)} %`;

const amount = (line: WeighUpLine, readabilityMg: number): Html => {
  if (line.stock) {
    return html`<span class="big-number">${millilitres(line.stock.volumeUl, line.stock.stepUl).replace(' mL', '')}
      <small>mL</small></span><br>of ${percent(line.stock.strengthPpm)} stock
      solution${line.stock.fills > 1 && html`, in ${line.stock.fills} fillings`}`;
  }
  return html`<span class="big-number">${grams(line.roundedMg, readabilityMg).replace(' g', '')}
    <small>g</small></span>`;
};

const rounding = (pct: number): string => (Math.abs(pct) < 0.005 ? 'no rounding' : `rounded by ${signedPct(pct)}`);

const remark = (line: WeighUpLine): Html | '' => {
  if (line.stock) {
    return html`${grams(line.exactMg, 1)} of powder is below what this scale weighs well;
      ${rounding(line.stock.roundingErrorPct)}`;
  }
  if (line.noStockFits === 'tooMuchLiquor') {
    return html`Too little to weigh well, and as solution more than the bath holds: use a finer scale or more goods.`;
  }
  if (line.noStockFits === 'tooLittleToMeasure') {
    return html`Too little to weigh, and too little of any solution to measure.`;
  }
  return html`${rounding(line.roundingErrorPct)}; half a digit is ± ${line.halfDigitErrorPct.toFixed(2)} %`;
};

const line = (l: WeighUpLine, readabilityMg: number): Html =>
  html`<li class="weigh-line"><span class="weigh-dye">${colourChip({
    hex: l.shownHex,
    label: l.name,
  })}<span><b>${l.code}</b> ${l.name}<br><span class="fine">${percent(l.ownDepthPpm)} of the goods${
    l.container
      ? html`, from ${l.container.code}${
          l.container.strengthPpm !== 1_000_000 &&
          html` at
        ${percent(l.container.strengthPpm)} strength`
        }`
      : ''
  }</span></span></span><span class="weigh-amount">${amount(l, readabilityMg)}</span><span
    class="fine weigh-remark">${remark(l)}</span></li>`;

/** What to weigh, or what of the form could not be read. Swapped in as one types. */
export const weighUp = (props: {
  result: WeighUpShown | null;
  errors: FieldErrors;
  planHref: string | null;
  /** Where the colour to expect is answered from; null where nothing is reckoned. */
  predictedHref: string | null;
  show: Show;
}): Html => {
  const { result } = props;
  if (!result) {
    return html`<div id="weigh-up" class="weigh-up" aria-live="polite"><div class="notice bad">${Object.values(
      props.errors,
    ).map((words) => html`<p>${words}</p>`)}</div></div>`;
  }
  const factors = [
    result.uptakePpm === 1_000_000 ? '' : `${percent(result.uptakePpm)} for these goods`,
    result.lossPpm === 0 ? '' : `${percent(result.lossPpm)} added for loss`,
  ].filter(Boolean);
  const powder = result.lines.every((l) => !l.stock);
  return html`<div id="weigh-up" class="weigh-up" aria-live="polite">
  <ol class="weigh-lines">${result.lines.map((l) => line(l, result.readabilityMg))}</ol>
  <p class="weigh-total">${
    powder
      ? html`<b>${grams(result.roundedTotalMg, result.readabilityMg)}</b> of dye in all`
      : html`<b>${grams(result.exactTotalMg, 1)}</b> of dye in all`
  } for ${mass(props.show, result.massMg)} of
    ${result.fibreName} at ${percent(result.depthPpm)}${
      factors.length > 0 && html` (${factors.join(', ')})`
    }${result.bathUl !== null && html`, in ${millilitres(result.bathUl, 100_000).replace(/\.0 /, ' ')} of bath`}.</p>
  ${result.warnings.map((words) => html`<p class="notice warn">${words}</p>`)}
  <p class="fine">Rounded to ${grams(result.readabilityMg, result.readabilityMg)}, so that the lines add up. Below
    ${grams(result.floorMg, 10)} a stock solution is proposed.</p>
  ${
    props.predictedHref &&
    html`<div hx-get="${props.predictedHref}" hx-trigger="load" hx-swap="outerHTML"><p><a
    href="${props.predictedHref}">What colour to expect</a></p></div>`
  }
  ${props.planHref && html`<p><a class="button primary" href="${props.planHref}">Plan a lot of this</a></p>`}
</div>`;
};

/** The same as a page of its own, for those without script. */
export const weighUpPage = (props: { swatchId: number; title: string; form: Html; part: Html }): Html =>
  html`${pageHead({
    title: 'Repeat',
    crumb: { href: `/swatches/${props.swatchId}`, label: props.title },
  })}<section class="panel">${props.form}${props.part}</section>`;
/** "Repeat on n g of …": what is typed is answered as one types. */
export const repeatForm = (props: { swatchId: number; form: FormState; fibres: readonly Option[] }): Html => {
  const { form } = props;
  const at = `/swatches/${props.swatchId}/weigh-up`;
  return html`<form class="repeat" action="${at}" method="get" hx-get="${at}" hx-target="#weigh-up" hx-swap="outerHTML"
    hx-trigger="input delay:250ms, submit">
  ${field({ name: 'mass', label: 'Dry mass of the goods', form, placeholder: '500 g', size: 'short', required: true })}
  ${selectField({ name: 'fibreId', label: 'Of', form, options: props.fibres, required: true })}
  ${field({
    name: 'depth',
    label: 'To a depth of',
    form,
    unit: '% owg',
    inputmode: 'decimal',
    size: 'short',
    required: true,
  })}
  <noscript><button>Work it out</button></noscript></form>`;
};
