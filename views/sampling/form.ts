import { type Html, html } from '../html.ts';
import { columnHeads } from '../kit/columnHeads.ts';
import { choice, type FormState, field, formNotice, type Option, selectField, textArea } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { grams, millilitres } from '../kit/show.ts';

export const NEW_KINDS = ['depthLadder', 'blendLadder', 'triangle'] as const;
export type NewKind = (typeof NEW_KINDS)[number];
const KINDS: Readonly<Record<NewKind, { label: string; dyes: number }>> = {
  depthLadder: { label: 'Depth ladder, one dye', dyes: 1 },
  blendLadder: { label: 'Blends of two dyes', dyes: 2 },
  triangle: { label: 'Triangle of three dyes', dyes: 3 },
};
const PREVIEW = 'sampling-preview';

export type PreviewProps =
  | { kind: 'notYet'; why: readonly string[] }
  | {
      kind: 'whole';
      count: number;
      columns: number;
      goodsMg: number;
      stocks: readonly { code: string; makeUl: number; powderMg: number }[];
      leastUl: number;
      tooSmall: number;
    };

/** What the set comes to: swapped as one types. */
export const samplingPreview = (p: PreviewProps): Html =>
  html`<div id="${PREVIEW}" aria-live="polite">${
    p.kind === 'notYet'
      ? html`<p class="fine">The volumes stand here once the dyes are chosen.</p>${p.why.map(
          (w) => html`<p class="field-error">${w}</p>`,
        )}`
      : html`<p><span class="big-number">${p.count}</span> pieces, ${p.columns} in a row, ${grams(
          p.goodsMg,
          100,
        )} of goods in all</p>
  <div class="table-wrap"><table class="plain"><caption class="visually-hidden">Stock solutions to
    make</caption><thead><tr>${columnHeads([
      'Stock',
      { num: 'Make' },
      { num: 'Powder' },
    ])}</tr></thead><tbody>${p.stocks.map(
      (s) =>
        html`<tr><th scope="row">${s.code}</th><td class="num">${millilitres(s.makeUl, 100)}</td>
          <td class="num">${grams(s.powderMg, 10)}</td></tr>`,
    )}</tbody></table></div>${
      p.tooSmall > 0 &&
      html`<p class="notice warn">${p.tooSmall} ${
        p.tooSmall === 1 ? 'volume is' : 'volumes are'
      } under 0.1 mL (the least ${millilitres(p.leastUl, 1)}): weaker stocks or heavier pieces are measured better.</p>`
    }`
  }</div>`;

export interface SamplingFormProps {
  kind: NewKind;
  form: FormState;
  fibres: readonly Option[];
  methods: readonly Option[];
  dyes: readonly Option[];
  preview: PreviewProps;
  kindHrefs: Readonly<Record<NewKind, string>>;
}

const ladder = (form: FormState): Html => html`${field({
  name: 'from',
  label: 'From',
  form,
  unit: '% owg',
  inputmode: 'decimal',
  size: 'short',
  required: true,
})}
${field({ name: 'to', label: 'To', form, unit: '% owg', inputmode: 'decimal', size: 'short', required: true })}
${field({ name: 'count', label: 'Pieces', form, inputmode: 'numeric', size: 'short', required: true })}
${choice({
  name: 'spacing',
  label: 'Steps',
  form,
  options: [
    { value: 'ratio', label: 'by the same factor' },
    { value: 'even', label: 'by the same amount' },
  ],
  hint: 'The eye sees the same factor as more even.',
})}`;

const blends = (form: FormState): Html => html`${field({
  name: 'depth',
  label: 'Total depth',
  form,
  unit: '% owg',
  inputmode: 'decimal',
  size: 'short',
  required: true,
})}
${selectField({
  name: 'step',
  label: 'Step between blends',
  form,
  options: [
    { value: '50', label: '50 %' },
    { value: '33.3333', label: 'thirds' },
    { value: '25', label: '25 %' },
    { value: '20', label: '20 %' },
    { value: '12.5', label: '12.5 %' },
    { value: '10', label: '10 %' },
    { value: '5', label: '5 %' },
  ],
})}`;

/** A new set of samples. */
export const samplingFormPage = (p: SamplingFormProps): Html => {
  const { form, kind } = p;
  return html`${pageHead({ title: 'Plan samples', crumb: { href: '/sampling', label: 'Sampling' } })}
<nav class="goods-list" aria-label="Kind of set"><ul>${NEW_KINDS.map(
    (k) => html`<li><a href="${p.kindHrefs[k]}" ${k === kind && html`aria-current="page"`}>${KINDS[k].label}</a></li>`,
  )}</ul></nav>
<form method="post" action="/sampling" class="cols lean" hx-get="/sampling/preview" hx-target="#${PREVIEW}"
  hx-swap="outerHTML" hx-trigger="input delay:300ms, change" hx-validate="false"><div>
<input type="hidden" name="kind" value="${kind}">${formNotice(form)}
<section class="panel"><h2>Goods</h2><div class="grid">
${selectField({ name: 'fibreId', label: 'Goods', form, options: p.fibres, required: true, none: 'choose' })}
${selectField({ name: 'methodId', label: 'Method', form, options: p.methods, required: true, none: 'choose' })}
${field({ name: 'pieceMass', label: 'One piece', form, placeholder: '5 g', size: 'short', required: true })}
${field({
  name: 'ratio',
  label: 'Liquor ratio',
  form,
  unit: 'L/kg',
  inputmode: 'decimal',
  size: 'short',
  hint: 'Cups are made up with water to it. Empty: no water told.',
})}</div></section>
<section class="panel stack"><h2>Dyes and their stock solutions</h2>${Array.from(
    { length: KINDS[kind].dyes },
    (_, i) =>
      html`<div class="grid">${selectField({
        name: `dyeId.${i}`,
        label: `Dye ${i + 1}`,
        form,
        options: p.dyes,
        required: true,
        none: 'choose',
      })}${field({
        name: `conc.${i}`,
        label: `Stock of dye ${i + 1}`,
        form,
        unit: '% w/v',
        inputmode: 'decimal',
        size: 'short',
        required: true,
      })}</div>`,
  )}</section>
<section class="panel"><h2>${kind === 'depthLadder' ? 'Depths' : 'Blends'}</h2><div class="grid">${
    kind === 'depthLadder' ? ladder(form) : blends(form)
  }
${field({
  name: 'reserve',
  label: 'More stock than is used',
  form,
  unit: '%',
  inputmode: 'decimal',
  size: 'short',
  required: true,
})}
${field({
  name: 'gridColumns',
  label: 'Pieces in a row on the sheet',
  form,
  inputmode: 'numeric',
  size: 'short',
  hint: 'For one photo of the whole sheet. Empty: chosen for you.',
})}</div></section>
<section class="panel"><div class="grid">${field({
    name: 'name',
    label: 'Name of the set',
    form,
    required: true,
    size: 'wide',
  })}${textArea({ name: 'note', label: 'Note', form, rows: 2 })}</div></section>
<p><button class="primary">Keep the plan</button></p></div>
<section class="panel the-set"><h2>The set</h2>${samplingPreview(p.preview)}</section></form>`;
};
