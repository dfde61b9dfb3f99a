import type { ContainerUsed, LotFromSwatch, SwatchComponent, SwatchShown } from '../../server/swatches/schemas.ts';
import { type Html, html, type Value } from '../html.ts';
import { nowCalled } from '../kit/called.ts';
import { colourChip } from '../kit/colourChip.ts';
import { type FormState, formNotice } from '../kit/field.ts';
import { lotStatusWords } from '../kit/lotStatus.ts';
import { badge, fact, pageHead } from '../kit/pageHead.ts';
import { day, depthDyed, mass, percent, type Show, when } from '../kit/show.ts';
import { cardFacts } from './cardFields.ts';
import { readingFields } from './readingFields.ts';
import { colourWords, swatchTile, type Tile, tileChip } from './tile.ts';

interface ReadingLine {
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

interface SwatchPageProps {
  swatch: SwatchShown;
  /** Whether the screen can show the colour, and whether that is adapted to the screen's white. */
  inGamut: boolean;
  adapted: boolean;
  readings: readonly ReadingLine[];
  lots: readonly LotFromSwatch[];
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

const fineLine = (words: Value): Html => html`<br><span class="fine">${words}</span>`;

const readingLine = (r: ReadingLine, p: SwatchPageProps): Html => {
  const source = SOURCES[r.source] ?? r.source;
  return html`<tr class="${r.withdrawnAt === null ? '' : 'withdrawn'}">
  <td><span class="chip-row">${colourChip({ hex: r.hex, label: r.name })}<span>${r.name}</span></span></td>
  <td><span class="reading-text">${r.text}</span>${r.asTyped.startsWith('#') && fineLine(`typed ${r.asTyped}`)}${
    !r.inGamut && fineLine('outside the screen’s range')
  }${r.note && fineLine(r.note)}</td>
  <td>${r.photoId === null ? source : html`<a href="/photos/${r.photoId}/1600">${source}</a>`}${
    r.uncertaintyMilli !== null && fineLine(`± ${(r.uncertaintyMilli / 1000).toFixed(1)} ΔE`)
  }</td>
  <td class="num">${percent(r.areaSharePpm)}</td>
  <td>${when(p.show, r.readAt)}${fineLine(r.readByName)}</td>${p.mayWork && html`<td>${withdrawal(r)}</td>`}</tr>`;
};

const withdrawal = (r: ReadingLine): Html =>
  r.withdrawnAt === null
    ? html`<form method="post" action="/readings/${r.id}/withdrawal"><button class="quiet">Withdraw<span
    class="visually-hidden"> the reading ${r.text}</span></button></form>`
    : badge({ label: 'withdrawn', tone: 'plain' });

const readings = (p: SwatchPageProps): Html =>
  p.readings.length === 0
    ? html`<p>No colour was read yet. Read one below, and the swatch takes its place on the wall.</p>`
    : html`<div class="table-wrap"><table class="plain"><thead><tr>
<th scope="col">Colour</th><th scope="col">Reading</th><th scope="col">Got by</th><th scope="col" class="num">Area</th>
<th scope="col">When, by whom</th>${
        p.mayWork && html`<th scope="col"><span class="visually-hidden">Withdraw</span></th>`
      }</tr></thead><tbody>${p.readings.map((r) => readingLine(r, p))}</tbody></table></div>`;

const formulaBar = (components: readonly SwatchComponent[]): Html => {
  let x = 0;
  return html`<svg class="formula-bar" viewBox="0 0 100 4" preserveAspectRatio="none"
    aria-hidden="true">${components.map((c) => {
      const width = c.sharePpm / 10_000;
      const rect = c.shownHex
        ? html`<rect x="${x}" y="0" width="${width}" height="4" fill="${c.shownHex}"/>`
        : html`<rect x="${x}" y="0" width="${width}" height="4" class="no-hex"/>`;
      x += width;
      return rect;
    })}</svg>`;
};

const component = (c: SwatchComponent): Html =>
  html`<tr><td><span class="chip-row">${colourChip({ hex: c.shownHex, label: c.name })}<span>
  <a href="/dyes/${c.dyeId}"><b>${c.code}</b> ${c.name}</a>${nowCalled(c.name, c.nowCalled)}</span></span></td>
  <td class="num">${percent(c.sharePpm)}</td><td class="num">${percent(c.ownDepthPpm)}</td></tr>`;

const formula = (s: SwatchShown): Html => html`<section class="panel"><h2>Formula</h2>
  <p><a href="/recipes/${s.recipeId}">${s.recipeName}</a>${nowCalled(s.recipeName, s.namesNow.recipeName)},
  revision ${s.revisionNumber}, ${s.dyeClass} dye, at <b>${percent(s.depthPpm)}</b> on weight of goods</p>
  ${
    s.correctedDepthPpm !== null &&
    html`<p class="notice">The books of lot ${s.lotNumber} now say <b>${depthDyed(
      s.correctedDepthPpm,
    )}</b>: the quantity
    of a dye was corrected after this card was made. The card keeps ${percent(s.depthPpm)}, and is predicted from at
    that.</p>`
  }
  ${formulaBar(s.components)}
  <div class="table-wrap"><table class="plain"><thead><tr><th scope="col">Dye</th>
  <th scope="col" class="num">Share</th><th scope="col" class="num">Own depth</th></tr></thead>
  <tbody>${s.components.map(component)}</tbody></table></div></section>`;

const containerLink = (c: ContainerUsed, i: number): Html =>
  html`${i > 0 && ', '}<a href="/stock/${c.stockLotId}">${c.code}</a>${c.makerLot && ` (${c.makerLot})`}${
    c.recalled && html` ${badge({ label: 'recalled', tone: 'bad' })}`
  }`;

const facts = (s: SwatchShown, show: Show): Html => {
  const goods = html`<a href="/fibres/${s.fibreId}">${s.fibreName}</a>`;
  const method = html`<a href="/methods/${s.methodId}">${s.methodName}</a>`;
  return html`<dl class="facts">
  ${fact('Goods', html`${goods}${nowCalled(s.fibreName, s.namesNow.fibreName)}`)}
  ${fact('Method', html`${method}${nowCalled(s.methodName, s.namesNow.methodName)}`)}
  ${fact('Dyed', `${day(s.dyedOn)} by ${s.madeBy.name}`)}
  ${s.lotId !== null && fact('Cut from lot', html`<a href="/lots/${s.lotId}">${s.lotNumber}</a>`)}
  ${s.dryMassMg !== null && fact('Sample', mass(show, s.dryMassMg))}
  ${cardFacts(s)}
  ${fact('Containers used', s.containers.length === 0 ? 'not noted' : s.containers.map(containerLink))}</dl>${
    s.note && html`<p class="swatch-note">${s.note}</p>`
  }`;
};

const lotRow = (l: LotFromSwatch, show: Show): Html =>
  html`<tr><td><a href="/lots/${l.lotId}"><b>${l.number}</b></a></td><td>${l.goodsText}</td>
  <td class="num">${mass(show, l.dryMassMg)}</td><td class="num">${depthDyed(l.depthPpm)}</td>
  <td>${lotStatusWords[l.status]}</td></tr>`;

const lotsDyed = ({ lots, show }: SwatchPageProps): Html | '' =>
  lots.length === 0
    ? ''
    : html`<section class="panel"><h2>Lots dyed from it</h2><div class="table-wrap"><table class="plain"><thead><tr>
<th scope="col">Lot</th><th scope="col">Goods</th><th scope="col" class="num">Dry mass</th>
<th scope="col" class="num">Depth</th><th scope="col">State</th></tr></thead>
<tbody>${lots.map((l) => lotRow(l, show))}</tbody></table></div></section>`;

const strip = (title: string, words: string, tiles: Html[]): Html | '' =>
  tiles.length === 0
    ? ''
    : html`<section class="strip"><h2>${title}</h2><p class="fine">${words}</p><ol
      class="wall strip-row">${tiles}</ol></section>`;

const colourWordsBelow = ({ swatch: s, inGamut, adapted }: SwatchPageProps): Html =>
  s.hex === null
    ? html`Colour not read yet`
    : html`${s.bands.length > 1 ? s.bands.map((b) => b.hex).join(' · ') : s.hex}${
        !inGamut && html` · outside the screen’s range`
      }${adapted && html` · adapted to the screen’s white`}`;

/** A swatch: its colour, how to repeat it, what it is made of, and what stands near it. */
export const swatchPage = (p: SwatchPageProps): Html => {
  const { swatch: s, mayWork, readingForm } = p;
  const at = `/swatches/${s.swatchId}`;
  const isPhoto = s.photoId !== null;
  return html`${pageHead({
    title: s.name,
    crumb: { href: '/swatches', label: 'Swatch library' },
    lead: html`${s.code} · ${s.hex === null ? 'colour not read yet' : colourWords(s)}${
      s.archived && html` · ${badge({ label: 'put away', tone: 'plain' })}`
    }`,
    actions: html`${
      s.hex !== null && html`<a class="button" href="/swatches/near?swatchId=${s.swatchId}">Near this colour</a>`
    }${
      mayWork && html`<a class="button" href="${at}/edit">Edit the card</a>`
    }<a class="button" href="${at}/card">Print the card</a>`,
  })}
  <div class="swatch-top">
    <figure class="swatch-colour ${isPhoto ? 'with-photo' : ''}">${
      !(isPhoto && s.hex === null) && html`<span class="tag-colour">${tileChip(s)}</span>`
    }${isPhoto && html`<img src="/photos/${s.photoId}/1600" alt="Photo of ${s.name}" width="1600" height="1200">`}
    <figcaption>${colourWordsBelow(p)}</figcaption></figure>
    <section class="panel repeat-panel"><h2>Repeat it</h2>${p.repeatForm}${p.weighUp}</section>
  </div>
  <div class="cols">
    ${formula(s)}
    <section class="panel"><h2>The card</h2>${facts(s, p.show)}</section>
  </div>
  <section class="panel" id="readings"><h2>Colour readings</h2>${readings(p)}
  ${
    mayWork &&
    html`<p><a class="button" href="/photo-readings/new?swatchId=${s.swatchId}">Read it from a photo</a></p>
    <details ${Object.keys(readingForm.errors).length > 0 && html`open`}><summary>Type in a reading</summary>
    <form method="post" action="${at}/readings" class="stack">${formNotice(readingForm)}${readingFields(readingForm)}
    <p><button class="primary">Keep the reading</button></p></form></details>`
  }</section>
  ${lotsDyed(p)}
  ${strip(
    'The same recipe',
    'Other depths, goods and methods of this formula, by depth.',
    p.ladder.map((t) => swatchTile({ tile: t, show: 'colour' })),
  )}
  ${strip(
    'Near in colour',
    'By CIEDE2000 under D65, 2°, to the nearest colour of variegated goods. ' +
      'Around 1 a trained eye sees the difference side by side.',
    p.near.map((n) => swatchTile({ tile: n.tile, show: 'colour', beside: `ΔE ${n.deltaE2000.toFixed(1)}` })),
  )}`;
};
