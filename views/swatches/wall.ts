import { HUE_FAMILIES, type HueFamily } from '../../server/calc/colour/colourName.ts';
import { D65_2, type Lab } from '../../server/calc/colour/reading.ts';
import { labFromLch, srgbFromLab } from '../../server/calc/colour/spaces.ts';
import type { SwatchFilterInput, WallQueryInput } from '../../server/swatches/schemas.ts';
import { type Html, html } from '../html.ts';
import { choice, type FormState, field, type Option, selectField } from '../kit/field.ts';
import { emptyState, pageHead } from '../kit/pageHead.ts';
import { CARD_FILTERS, cardFilters } from './cardFields.ts';
import { swatchTile, type Tile } from './tile.ts';

/** Element that a changed filter replaces, and the one that "show more" does. */
const WALL = 'wall';
const MORE = 'wall-more';

interface WallProps {
  tiles: readonly Tile[];
  total: number;
  from: number;
  show: WallQueryInput['show'];
  size: WallQueryInput['size'];
  /** Address of the next tiles, or null at the end. */
  moreHref: string | null;
  anyAtAll: boolean;
  archived: boolean;
  mayWork: boolean;
}

const more = (href: string | null): Html | '' =>
  href === null
    ? ''
    : html`<li class="wall-more" id="${MORE}"><a class="button" href="${href}" hx-get="${href}" hx-target="#${MORE}"
      hx-swap="outerHTML">Show more</a></li>`;

/** The next tiles, to go where "show more" stood. */
export const moreTiles = (props: WallProps): Html =>
  html`${props.tiles.map((tile) => swatchTile({ tile, show: props.show }))}${more(props.moreHref)}`;

const count = (n: number): string => (n === 1 ? '1 swatch' : `${n.toLocaleString('en')} swatches`);

/** The wall itself: what a changed filter swaps. */
export const swatchWall = (props: WallProps): Html => {
  if (props.tiles.length === 0) {
    return html`<div id="${WALL}">${
      props.anyAtAll
        ? emptyState({
            title: props.archived ? 'Nothing was put away' : 'No swatch fits that',
            words: 'Take out a word or a filter, or look at the whole wall.',
            action: { href: '/swatches', label: 'Show the whole wall' },
          })
        : emptyState({
            title: 'The wall is bare',
            words: 'A swatch is one dyed sample with its formula. Start with the card you reach for most often.',
            ...(props.mayWork ? { action: { href: '/swatches/new', label: 'Add a swatch' } } : {}),
          })
    }</div>`;
  }
  return html`<div id="${WALL}" class="wall-ground">
  <p class="wall-count" role="status">${count(props.total)}${
    props.from > 0 &&
    html`, from number ${props.from + 1} on ·
    <a href="/swatches">back to the start</a>`
  }</p>
  <ol class="wall ${props.size}">${moreTiles(props)}</ol></div>`;
};

/* A middle colour of each family, to know its button by. */
const FAMILY_LCH: Readonly<Record<HueFamily, readonly [number, number, number]>> = {
  neutral: [60, 0, 0],
  yellow: [84, 72, 92],
  orange: [68, 70, 62],
  red: [50, 62, 30],
  rose: [60, 48, 2],
  purple: [42, 45, 325],
  violet: [45, 48, 302],
  blue: [45, 42, 262],
  teal: [55, 34, 200],
  green: [52, 42, 148],
  'yellow-green': [72, 58, 114],
};
const WALK: readonly HueFamily[] = [
  'yellow',
  'orange',
  'red',
  'rose',
  'purple',
  'violet',
  'blue',
  'teal',
  'green',
  'yellow-green',
  'neutral',
];
const familyHex = (family: HueFamily): string => {
  const [L, C, hueDeg] = FAMILY_LCH[family];
  const lab: Lab = labFromLch({ L, C, hueDeg });
  return srgbFromLab({ lab, conditions: D65_2 }).hex;
};

/** A row of hues to pick from, in the order of the wall. */
const hueRow = (chosen: string): Html =>
  html`<fieldset class="hues"><legend class="visually-hidden">Hue</legend>
  <label class="hue any"><input type="radio" name="hue" value="" ${chosen === '' && html`checked`}><span>all
    hues</span></label>${WALK.filter((family) => HUE_FAMILIES.includes(family)).map(
      (family) =>
        html`<label class="hue"><input type="radio" name="hue" value="${family}"
        ${chosen === family && html`checked`}><svg viewBox="0 0 10 10" aria-hidden="true"
        preserveAspectRatio="none"><rect width="10" height="10"
        fill="${familyHex(family)}"/></svg><span>${family === 'neutral' ? 'grey' : family}</span></label>`,
    )}</fieldset>`;

interface WallChoices {
  fibres: readonly Option[];
  methods: readonly Option[];
  dyes: readonly Option[];
}

const ORDERS: readonly (Option & { value: SwatchFilterInput['sort'] })[] = [
  { value: 'hue', label: 'hue' },
  { value: 'lightness', label: 'lightness' },
  { value: 'depth', label: 'depth' },
  { value: 'newest', label: 'newest first' },
  { value: 'rating', label: 'rating' },
];

const filters = (form: FormState, choices: WallChoices, action: Html | ''): Html => {
  const narrowed = ['fibreId', 'methodId', 'dyeId', ...CARD_FILTERS].filter((n) => form.typed[n]).length;
  return html`<form class="wall-filter" action="/swatches" method="get" role="search" aria-label="Swatches"
    hx-get="/swatches" hx-target="#${WALL}" hx-swap="outerHTML" hx-trigger="input delay:250ms, submit">
  <div class="wall-head"><h1>Swatch library</h1><div class="wall-words">${field({
    name: 'words',
    label: 'Find',
    form,
    type: 'search',
    placeholder: 'name, card, dye, goods, place, note',
  })}</div>${action}</div>
  ${hueRow(form.typed['hue'] ?? '')}
  <div class="wall-bar">
  ${selectField({ name: 'sort', label: 'In order of', form, options: ORDERS })}
  <details class="wall-more-filters" ${narrowed > 0 && html`open`}><summary>More filters</summary><div
    class="wall-selects">
  ${selectField({ name: 'fibreId', label: 'Goods', form, options: choices.fibres, none: 'any' })}
  ${selectField({ name: 'methodId', label: 'Method', form, options: choices.methods, none: 'any' })}
  ${selectField({ name: 'dyeId', label: 'Dye', form, options: choices.dyes, none: 'any' })}
  ${cardFilters(form)}
  </div></details>
  ${choice({
    name: 'show',
    label: 'Show',
    form,
    options: [
      { value: 'colour', label: 'colour' },
      { value: 'photo', label: 'photo' },
    ],
  })}
  ${choice({
    name: 'size',
    label: 'Tags',
    form,
    options: [
      { value: 'large', label: 'large' },
      { value: 'dense', label: 'small' },
    ],
  })}
  <noscript><button>Show</button></noscript></div>
</form>`;
};

/** The swatch library: a wall of colour, with what narrows it. */
export const swatchesPage = (props: { wall: WallProps; form: FormState; choices: WallChoices }): Html => {
  const action = html`<div class="actions"><a class="button" href="/swatches/near">Near a colour</a><a class="button"
    href="/colour/map">Map</a><a class="button" href="/sampling">Sampling</a>${
      props.wall.mayWork && html`<a class="button primary" href="/swatches/new">Add a swatch</a>`
    }</div>`;
  return html`<div class="wall-page">${
    props.wall.anyAtAll
      ? filters(props.form, props.choices, action)
      : pageHead({ title: 'Swatch library', actions: action })
  }
  ${swatchWall(props.wall)}</div>`;
};
