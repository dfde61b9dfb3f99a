import { D65_2 } from '../../server/calc/colour/reading.ts';
import { labFromLch, srgbFromLab } from '../../server/calc/colour/spaces.ts';
import { type Html, html } from '../html.ts';
import { colourDot } from '../kit/colourPatch.ts';
import { illuminantOptions, observerOptions } from '../kit/conditions.ts';
import { choice, type FormState, field, type Option, selectField } from '../kit/field.ts';
import { hiddenFields } from '../kit/hiddenFields.ts';
import { emptyState, pageHead } from '../kit/pageHead.ts';
import { percent } from '../kit/show.ts';
import { type Picked, pickColour } from './pick.ts';
import { type StandardProps, standardHead } from './standard.ts';
import { type NearHitProps, nearTile } from './tile.ts';

/** Element that a changed filter replaces. */
const FOUND = 'near-found';

export interface FoundProps {
  hits: readonly NearHitProps[];
  adaptation: string;
  formulaName: string;
  underName: string;
  anyFilter: boolean;
  plainHref: string;
  standardHex: string;
  plusMinus: number | null;
}

export interface NearPageProps {
  standard:
    | (StandardProps & {
        bands: readonly { hex: string; name: string; sharePpm: number | null; chosen: boolean; href: string }[];
      })
    | null;
  found: FoundProps | null;
  picked: Picked;
  form: FormState;
  standardFields: readonly (readonly [string, string])[];
  filterFields: readonly (readonly [string, string])[];
  choices: { fibres: readonly Option[]; methods: readonly Option[]; dyeClasses: readonly Option[] };
  mayLog: boolean;
}

/** The swatches found: what a changed filter swaps. */
export const nearFound = (p: FoundProps | null): Html => {
  if (p === null) return html`<div id="${FOUND}"></div>`;
  if (p.hits.length === 0) {
    return html`<div id="${FOUND}">${
      p.anyFilter
        ? emptyState({
            title: 'No swatch passes the filters',
            words: 'Take one out, or look at all that are near.',
            action: { href: p.plainHref, label: 'Without filters' },
          })
        : emptyState({
            title: 'No colour to compare with yet',
            words: 'A swatch takes part once its colour was read: by an instrument, from a photo, or typed.',
            action: { href: '/swatches', label: 'To the library' },
          })
    }</div>`;
  }
  // Said once above when it is the same of all.
  const sameSaid = new Set(p.hits.map((h) => h.adaptedFrom)).size === 1;
  return html`<div id="${FOUND}"><p class="fine near-how" role="status">${
    p.hits.length === 1 ? 'One swatch' : `The nearest ${p.hits.length}`
  }, by ${p.formulaName} under ${p.underName}; the colour looked for is on the left of each.${
    p.plusMinus !== null &&
    html` It is known to ± ${p.plusMinus.toFixed(1)}: swatches whose ΔE differ by less cannot be ranked by it.`
  }${p.adaptation && html` ${p.adaptation}`}</p>
  <ol class="near-tiles">${p.hits.map((hit) =>
    nearTile({ hit: sameSaid ? { ...hit, adaptedFrom: null } : hit, standardHex: p.standardHex }),
  )}</ol></div>`;
};

const bandList = (bands: NonNullable<NearPageProps['standard']>['bands']): Html =>
  html`<ul class="near-bands">${bands.map(
    (b) =>
      html`<li><a href="${b.href}" ${b.chosen && html`aria-current="true"`}>${colourDot(b.hex)}<span>${b.name}${
        b.sharePpm !== null && ` ${percent(b.sharePpm, 0)}`
      }</span></a></li>`,
  )}</ul>`;

const typeIt = (p: NearPageProps): Html =>
  html`<form class="near-type" action="/swatches/near" method="get">${hiddenFields(p.filterFields)}
  ${field({
    name: 'colour',
    label: 'Type it',
    form: p.form,
    placeholder: '#3a6b88, 52 -8 -14, LCh 52 16 240',
    autocomplete: 'off',
  })}
  <details class="near-light"><summary>Light of typed numbers</summary><div class="grid">${choice({
    name: 'illuminant',
    label: 'Light',
    form: p.form,
    options: illuminantOptions,
  })}${choice({
    name: 'observer',
    label: 'Observer',
    form: p.form,
    options: observerOptions,
    hint: 'A colour code is always D65, 2°.',
  })}</div></details>
  <p><button>Find near it</button></p></form>`;

const screenPicker = (p: NearPageProps): Html =>
  html`<form class="near-screen" action="/swatches/near" method="get">${hiddenFields(p.filterFields)}
  <div class="field"><label for="screen-colour">Your device’s own picker</label><input id="screen-colour" type="color"
    name="colour" value="${p.standard?.hex ?? '#4a6f8f'}"></div><button>Find near it</button></form>`;

const chooser = (p: NearPageProps): Html => {
  const { lightness, chroma, hue } = p.picked;
  const { hex } = srgbFromLab({ lab: labFromLch({ L: lightness, C: chroma, hueDeg: hue }), conditions: D65_2 });
  return html`<div class="near-choose">
  <section class="panel"><h2>Pick it</h2>${pickColour({ picked: p.picked, hex, hidden: p.filterFields })}</section>
  <div><section class="panel"><h2>From what lies before you</h2>${
    p.mayLog
      ? html`<p>A photo with a reference card in it tells the colour of cloth, yarn, a leaf.</p><p><a class="button"
        href="/photo-readings/new">Take or choose a photo</a></p>`
      : html`<p>Somebody who may log can read a colour from a photo.</p>`
  }<p class="fine">From a swatch or a lot: open it and choose “Near this colour”.</p></section>
  <section class="panel"><h2>As a number or a code</h2>${typeIt(p)}${screenPicker(p)}</section></div></div>`;
};

const filters = (p: NearPageProps): Html => {
  const narrowed = ['fibreId', 'methodId', 'dyeClass', 'depth', 'stockFor'].filter((n) => p.form.typed[n]).length;
  return html`<form class="near-filter" action="/swatches/near" method="get" aria-label="Which swatches"
    hx-get="/swatches/near" hx-target="#${FOUND}" hx-swap="outerHTML"
    hx-trigger="input delay:250ms, submit">${hiddenFields(p.standardFields)}
  <details ${narrowed > 0 && html`open`}><summary>Only some, or by another formula</summary><div class="grid">
  ${selectField({ name: 'fibreId', label: 'Goods', form: p.form, options: p.choices.fibres, none: 'any' })}
  ${selectField({ name: 'dyeClass', label: 'Dye class', form: p.form, options: p.choices.dyeClasses, none: 'any' })}
  ${selectField({ name: 'methodId', label: 'Method', form: p.form, options: p.choices.methods, none: 'any' })}
  ${selectField({
    name: 'depth',
    label: 'Depth',
    form: p.form,
    none: 'any',
    options: ['pale', 'medium', 'deep'].map((v) => ({ value: v, label: v })),
  })}
  ${selectField({
    name: 'stockFor',
    label: 'Dyes in stock for',
    form: p.form,
    none: 'do not ask',
    options: stockChoices(p.form.typed['stockFor'] ?? ''),
  })}
  ${selectField({
    name: 'formula',
    label: 'Difference by',
    form: p.form,
    options: [
      { value: 'deltaE2000', label: 'CIEDE2000' },
      { value: 'deltaECmc21', label: 'CMC(2:1)' },
      { value: 'deltaECmc11', label: 'CMC(1:1)' },
    ],
  })}
  ${selectField({
    name: 'under',
    label: 'Compared under',
    form: p.form,
    none: 'its own light and observer',
    options: UNDER,
  })}</div><noscript><button>Show</button></noscript></details></form>`;
};

const UNDER: readonly Option[] = ['D65', 'D50', 'A'].flatMap((light) =>
  ['2', '10'].map((observer) => ({
    value: `${light}/${observer}`,
    label: `${light}${light === 'A' ? ' (lamp light)' : ''}, ${observer}°`,
  })),
);
const STOCK_CHOICES = ['20 g', '100 g', '250 g', '500 g', '1 kg', '2 kg', '5 kg'];
const stockChoices = (typed: string): Option[] =>
  [...new Set([...STOCK_CHOICES, typed])].filter(Boolean).map((v) => ({ value: v, label: `${v} of the goods` }));

/** The nearest swatches to a colour, and the ways to say which colour. */
export const nearPage = (p: NearPageProps): Html =>
  html`<div class="near-page">${pageHead({
    title: 'Near a colour',
    crumb: { href: '/swatches', label: 'Swatch library' },
    ...(p.standard ? {} : { lead: 'Say which colour, and the nearest swatches stand beside it.' }),
  })}${
    p.standard === null
      ? html`${problem(p.form)}${chooser(p)}`
      : html`${standardHead(
          p.standard,
          'The colour looked for',
          p.standard.bands.length > 1 && bandList(p.standard.bands),
        )}<p><a class="button" href="/colour/proposals?${String(
          new URLSearchParams(p.standardFields.map(([name, value]): [string, string] => [name, value])),
        )}">Recipes for this colour</a></p><div class="near-ground">${filters(p)}${nearFound(p.found)}</div>
  <details class="near-other"><summary>Another colour</summary>${chooser(p)}</details>`
  }</div>`;

const problem = (form: FormState): Html | '' => {
  const words = Object.values(form.errors);
  return words.length === 0
    ? ''
    : html`<div class="notice bad" role="alert" tabindex="-1" data-focus>${words.map((w) => html`<p>${w}</p>`)}</div>`;
};
