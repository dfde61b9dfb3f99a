import { type Html, html } from '../html.ts';
import { nowCalled } from '../kit/called.ts';
import { colourChip } from '../kit/colourChip.ts';
import { choice, type FormState, field, fieldError, formNotice, type Option, selectField } from '../kit/field.ts';
import { badge, fact, pageHead } from '../kit/pageHead.ts';
import { day, depthDyed, mass, percent, type Show, when } from '../kit/show.ts';
import { colourWords, stars, swatchTile, type Tile } from './tile.ts';

export interface ReadingLine {
  id: number;
  hex: string;
  inGamut: boolean;
  adapted: boolean;
  name: string;
  text: string;
  asTyped: string;
  source: string;
  areaSharePpm: number | null;
  uncertaintyMilli: number | null;
  note: string;
  photoId: number | null;
  readAt: number;
  readByName: string;
  withdrawnAt: number | null;
}

export interface SwatchPageProps {
  tile: Tile & { recipeName: string; methodName: string; fibreId: number; methodId: number; dyedOn: string };
  namesNow: { recipeName: string; fibreName: string; methodName: string };
  correctedDepthPpm: number | null;
  recipeId: number;
  revisionNumber: number;
  dyeClass: string;
  components: readonly {
    dyeId: number;
    code: string;
    name: string;
    shownHex: string | null;
    sharePpm: number;
    ownDepthPpm: number;
    nowCalled: string | null;
  }[];
  containers: readonly { stockLotId: number; code: string; makerLot: string; supplier: string; recalled: boolean }[];
  lotId: number | null;
  lotNumber: string | null;
  dryMassMg: number | null;
  madeByName: string;
  cardPlace: string;
  note: string;
  archived: boolean;
  inGamut: boolean;
  adapted: boolean;
  readings: readonly ReadingLine[];
  lots: readonly {
    lotId: number;
    number: string;
    status: string;
    goodsText: string;
    dryMassMg: number;
    depthPpm: number;
  }[];
  ladder: readonly Tile[];
  near: readonly { tile: Tile; deltaE2000: number }[];
  repeatForm: Html;
  weighUp: Html;
  readingForm: FormState;
  mayWork: boolean;
  show: Show;
}

const SOURCES: Readonly<Record<string, string>> = {
  instrument: 'instrument',
  photoWithCard: 'photo with card',
  typed: 'typed',
  predicted: 'predicted',
  invented: 'invented',
};

const STATUS: Readonly<Record<string, string>> = {
  planned: 'planned',
  onBench: 'on the bench',
  finished: 'finished',
  abandoned: 'abandoned',
};

/** "Repeat on n g of …": what is typed is answered as one types. */
export const repeatForm = (props: { swatchId: number; form: FormState; fibres: readonly Option[] }): Html => {
  const { form } = props;
  const at = `/swatches/${props.swatchId}/weigh-up`;
  return html`<form class="repeat" action="${at}" method="get" hx-get="${at}" hx-target="#weigh-up" hx-swap="outerHTML" hx-trigger="input delay:250ms, submit">
  ${field({ name: 'mass', label: 'Dry mass of the goods', form, placeholder: '500 g', size: 'short', required: true })}
  ${selectField({ name: 'fibreId', label: 'Of', form, options: props.fibres, required: true })}
  ${field({ name: 'depth', label: 'To a depth of', form, unit: '% owg', inputmode: 'decimal', size: 'short', required: true })}
  <noscript><button>Work it out</button></noscript></form>`;
};

const readingRow = (form: FormState, n: number): Html =>
  html`<div class="reading-row">${field({ name: `colour.${n}`, label: 'Colour', form, placeholder: '52.1 -8 -14 or #3a6b88' })}${field({ name: `share.${n}`, label: 'Share of the area', form, unit: '%', inputmode: 'decimal', size: 'short' })}</div>`;

/** Fields for colours that are typed in; also part of the form of a new swatch. */
export const readingFields = (form: FormState): Html => {
  const typed = Object.keys(form.typed)
    .map((name) => /^(?:colour|share)\.(\d+)$/.exec(name)?.[1])
    .map((n) => Number(n ?? -1));
  const rows = Math.max(1, Math.min(12, Math.max(...typed, -1) + 1));
  return html`<div id="reading-rows" class="reading-rows">${Array.from({ length: rows }, (_, n) => readingRow(form, n))}</div>
  ${fieldError('readings', form)}
  <p><button type="button" class="quiet" data-add-row="reading-rows">One more colour</button></p>
  <p class="hint">L* a* b* as three numbers, or a colour code. Several colours with their shares for variegated goods; leave the share empty for even goods.</p>
  <div class="grid">${choice({
    name: 'readingSource',
    label: 'Got by',
    form,
    options: [
      { value: 'instrument', label: 'an instrument' },
      { value: 'typed', label: 'typed from elsewhere' },
    ],
  })}
  ${choice({
    name: 'illuminant',
    label: 'Light of L* a* b*',
    form,
    options: [
      { value: 'D65', label: 'D65' },
      { value: 'D50', label: 'D50' },
      { value: 'A', label: 'A' },
    ],
  })}
  ${choice({
    name: 'observer',
    label: 'Observer',
    form,
    options: [
      { value: '2', label: '2°' },
      { value: '10', label: '10°' },
    ],
    hint: 'Both stand on the instrument’s print-out. A colour code is always D65, 2°.',
  })}
  ${field({ name: 'readingNote', label: 'Note on the reading', form, placeholder: 'four layers, black backing' })}</div>`;
};

const readings = (p: SwatchPageProps): Html =>
  p.readings.length === 0
    ? html`<p>No colour was read yet. Read one below, and the swatch takes its place on the wall.</p>`
    : html`<div class="table-wrap"><table class="plain"><thead><tr><th scope="col">Colour</th><th scope="col">Reading</th><th scope="col">Got by</th><th scope="col" class="num">Area</th><th scope="col">When, by whom</th>${p.mayWork && html`<th scope="col"><span class="visually-hidden">Withdraw</span></th>`}</tr></thead><tbody>${p.readings.map(
        (r) =>
          html`<tr class="${r.withdrawnAt === null ? '' : 'withdrawn'}"><td><span class="chip-row">${colourChip({ hex: r.hex, label: r.name })}<span>${r.name}</span></span></td><td><span class="reading-text">${r.text}</span>${r.asTyped.startsWith('#') && html`<br><span class="fine">typed ${r.asTyped}</span>`}${!r.inGamut && html`<br><span class="fine">outside the screen’s range</span>`}${r.note && html`<br><span class="fine">${r.note}</span>`}</td><td>${r.photoId === null ? (SOURCES[r.source] ?? r.source) : html`<a href="/photos/${r.photoId}/1600">${SOURCES[r.source] ?? r.source}</a>`}${r.uncertaintyMilli !== null && html`<br><span class="fine">± ${(r.uncertaintyMilli / 1000).toFixed(1)} ΔE</span>`}</td><td class="num">${percent(r.areaSharePpm)}</td><td>${when(p.show, r.readAt)}<br><span class="fine">${r.readByName}</span></td>${
            p.mayWork &&
            html`<td>${
              r.withdrawnAt === null
                ? html`<form method="post" action="/readings/${r.id}/withdrawal"><button class="quiet">Withdraw<span class="visually-hidden"> the reading ${r.text}</span></button></form>`
                : badge({ label: 'withdrawn', tone: 'plain' })
            }</td>`
          }</tr>`,
      )}</tbody></table></div>`;

const formulaBar = (p: SwatchPageProps): Html => {
  let x = 0;
  return html`<svg class="formula-bar" viewBox="0 0 100 4" preserveAspectRatio="none" aria-hidden="true">${p.components.map(
    (c) => {
      const width = c.sharePpm / 10_000;
      const rect = c.shownHex
        ? html`<rect x="${x}" y="0" width="${width}" height="4" fill="${c.shownHex}"/>`
        : html`<rect x="${x}" y="0" width="${width}" height="4" class="no-hex"/>`;
      x += width;
      return rect;
    },
  )}</svg>`;
};

const formula = (p: SwatchPageProps): Html => html`<section class="panel"><h2>Formula</h2>
  <p><a href="/recipes/${p.recipeId}">${p.tile.recipeName}</a>${nowCalled(p.tile.recipeName, p.namesNow.recipeName)}, revision ${p.revisionNumber}, ${p.dyeClass} dye, at <b>${percent(p.tile.depthPpm)}</b> on weight of goods</p>
  ${p.correctedDepthPpm !== null && html`<p class="notice">The books of lot ${p.lotNumber} now say <b>${depthDyed(p.correctedDepthPpm)}</b>: the quantity of a dye was corrected after this card was made. The card keeps ${percent(p.tile.depthPpm)}, and is predicted from at that.</p>`}
  ${formulaBar(p)}
  <div class="table-wrap"><table class="plain"><thead><tr><th scope="col">Dye</th><th scope="col" class="num">Share</th><th scope="col" class="num">Own depth</th></tr></thead><tbody>${p.components.map(
    (c) =>
      html`<tr><td><span class="chip-row">${colourChip({ hex: c.shownHex, label: c.name })}<span><a href="/dyes/${c.dyeId}"><b>${c.code}</b> ${c.name}</a>${nowCalled(c.name, c.nowCalled)}</span></span></td><td class="num">${percent(c.sharePpm)}</td><td class="num">${percent(c.ownDepthPpm)}</td></tr>`,
  )}</tbody></table></div></section>`;

const facts = (p: SwatchPageProps): Html => html`<dl class="facts">
  ${fact('Goods', html`<a href="/fibres/${p.tile.fibreId}">${p.tile.fibreName}</a>${nowCalled(p.tile.fibreName, p.namesNow.fibreName)}`)}
  ${fact('Method', html`<a href="/methods/${p.tile.methodId}">${p.tile.methodName}</a>${nowCalled(p.tile.methodName, p.namesNow.methodName)}`)}
  ${fact('Dyed', `${day(p.tile.dyedOn)} by ${p.madeByName}`)}
  ${p.lotId !== null && fact('Cut from lot', html`<a href="/lots/${p.lotId}">${p.lotNumber}</a>`)}
  ${p.dryMassMg !== null && fact('Sample', mass(p.show, p.dryMassMg))}
  ${fact('Card kept in', p.cardPlace || '—')}
  ${p.tile.rating !== null && fact('Rating', stars(p.tile.rating))}
  ${fact(
    'Containers used',
    p.containers.length === 0
      ? 'not noted'
      : p.containers.map(
          (c, i) =>
            html`${i > 0 && ', '}<a href="/stock/${c.stockLotId}">${c.code}</a>${c.makerLot && ` (${c.makerLot})`}${c.recalled && html` ${badge({ label: 'recalled', tone: 'bad' })}`}`,
        ),
  )}</dl>${p.note && html`<p class="swatch-note">${p.note}</p>`}`;

const strip = (title: string, words: string, tiles: Html[]): Html | '' =>
  tiles.length === 0
    ? ''
    : html`<section class="strip"><h2>${title}</h2><p class="fine">${words}</p><ol class="wall strip-row">${tiles}</ol></section>`;

/** A swatch: its colour, how to repeat it, what it is made of, and what stands near it. */
export const swatchPage = (p: SwatchPageProps): Html => {
  const { tile } = p;
  const isPhoto = tile.photoId !== null;
  return html`${pageHead({
    title: tile.name,
    crumb: { href: '/swatches', label: 'Swatch library' },
    lead: html`${tile.code} · ${tile.hex === null ? 'colour not read yet' : colourWords(tile)}${p.archived && html` · ${badge({ label: 'put away', tone: 'plain' })}`}`,
    actions: html`${tile.hex !== null && html`<a class="button" href="/swatches/near?swatchId=${tile.swatchId}">Near this colour</a>`}${p.mayWork && html`<a class="button" href="/swatches/${tile.swatchId}/edit">Edit the card</a>`}<a class="button" href="/swatches/${tile.swatchId}/card">Print the card</a>`,
  })}
  <div class="swatch-top">
    <figure class="swatch-colour ${isPhoto ? 'with-photo' : ''}">${
      !(isPhoto && tile.hex === null) &&
      html`<span class="tag-colour">${colourChip({
        hex: tile.hex,
        label: colourWords(tile),
        size: 'tile',
        bands: tile.bands.map((b) => ({ hex: b.hex, share: b.sharePpm })),
      })}</span>`
    }${isPhoto && html`<img src="/photos/${tile.photoId}/1600" alt="Photo of ${tile.name}" width="1600" height="1200">`}
    <figcaption>${tile.hex === null ? 'Colour not read yet' : html`${tile.bands.length > 1 ? tile.bands.map((b) => b.hex).join(' · ') : tile.hex}${!p.inGamut && html` · outside the screen’s range`}${p.adapted && html` · adapted to the screen’s white`}`}</figcaption></figure>
    <section class="panel repeat-panel"><h2>Repeat it</h2>${p.repeatForm}${p.weighUp}</section>
  </div>
  <div class="cols">
    ${formula(p)}
    <section class="panel"><h2>The card</h2>${facts(p)}</section>
  </div>
  <section class="panel" id="readings"><h2>Colour readings</h2>${readings(p)}
  ${
    p.mayWork &&
    html`<p><a class="button" href="/photo-readings/new?swatchId=${tile.swatchId}">Read it from a photo</a></p><details ${Object.keys(p.readingForm.errors).length > 0 && html`open`}><summary>Type in a reading</summary>
    <form method="post" action="/swatches/${tile.swatchId}/readings" class="stack">${formNotice(p.readingForm)}${readingFields(p.readingForm)}<p><button class="primary">Keep the reading</button></p></form></details>`
  }</section>
  ${
    p.lots.length > 0 &&
    html`<section class="panel"><h2>Lots dyed from it</h2><div class="table-wrap"><table class="plain"><thead><tr><th scope="col">Lot</th><th scope="col">Goods</th><th scope="col" class="num">Dry mass</th><th scope="col" class="num">Depth</th><th scope="col">State</th></tr></thead><tbody>${p.lots.map(
      (l) =>
        html`<tr><td><a href="/lots/${l.lotId}"><b>${l.number}</b></a></td><td>${l.goodsText}</td><td class="num">${mass(p.show, l.dryMassMg)}</td><td class="num">${depthDyed(l.depthPpm)}</td><td>${STATUS[l.status] ?? l.status}</td></tr>`,
    )}</tbody></table></div></section>`
  }
  ${strip(
    'The same recipe',
    'Other depths, goods and methods of this formula, by depth.',
    p.ladder.map((t) => swatchTile({ tile: t, show: 'colour' })),
  )}
  ${strip(
    'Near in colour',
    'By CIEDE2000 under D65, 2°, to the nearest colour of variegated goods. Around 1 a trained eye sees the difference side by side.',
    p.near.map((n) => swatchTile({ tile: n.tile, show: 'colour', beside: `ΔE ${n.deltaE2000.toFixed(1)}` })),
  )}`;
};
