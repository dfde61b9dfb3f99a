import { type Html, html } from '../html.ts';
import { colourDot } from '../kit/colourPatch.ts';
import { type FormState, type Option, selectField } from '../kit/field.ts';
import { emptyState, pageHead } from '../kit/pageHead.ts';

export interface MapPageProps {
  points: readonly {
    swatchId: number;
    code: string;
    name: string;
    hex: string;
    l: number;
    a: number;
    b: number;
    family: string;
    lightness: string;
  }[];
  holes: readonly { number: number; l: number; a: number; b: number; hex: string; name: string; distance: number }[];
  cells: readonly {
    family: string;
    lightness: string;
    count: number;
    hole: { l: number; c: number; h: number; name: string } | null;
  }[];
  families: readonly string[];
  bands: readonly string[];
  form: FormState;
  fibres: readonly Option[];
  methods: readonly Option[];
  /** Fibre and method, carried to the proposals. */
  goodsQuery: string;
  /** How many there are, where only an even part of them is drawn. */
  drawnOf: number | null;
}

const proposalsHref = (colour: string, goods: string): string =>
  `/colour/proposals?${new URLSearchParams({ colour })}${goods}`;
const colourHref = (c: { l: number; a: number; b: number }, goods: string): string =>
  proposalsHref(`${c.l.toFixed(1)} ${c.a.toFixed(1)} ${c.b.toFixed(1)}`, goods);
const lchHref = (c: { l: number; c: number; h: number }, goods: string): string =>
  proposalsHref(`LCh ${c.l.toFixed(1)} ${c.c.toFixed(1)} ${c.h.toFixed(0)}`, goods);

/** The plane of a* and b* from above: grey in the middle, redder to the right, yellower up. */
const plane = (p: MapPageProps): Html => {
  const reach = 20 * Math.ceil(Math.max(40, ...p.points.map((q) => Math.max(Math.abs(q.a), Math.abs(q.b)))) / 20);
  const y = (b: number): string => (-b).toFixed(1);
  const lines = Array.from({ length: (2 * reach) / 20 + 1 }, (_, i) => -reach + 20 * i);
  return html`<svg class="map-plane" viewBox="${-reach - 8} ${-reach - 8} ${2 * reach + 16} ${2 * reach + 16}"
    role="group" aria-label="Swatches in the plane of a* and b*: ${p.points.length} points, ${p.holes.length} holes">
  <g class="map-lines">${lines.map((v) => html`<path d="M${v} ${-reach}V${reach}M${-reach} ${v}H${reach}"/>`)}</g>
  <path class="map-axis" d="M0 ${-reach}V${reach}M${-reach} 0H${reach}"/>
  <g class="map-words"><text x="${reach + 6}" y="-2" text-anchor="end">redder</text><text x="${-reach - 6}"
    y="-2">greener</text><text x="2" y="${-reach - 1}">yellower</text><text x="2" y="${reach + 5}">bluer</text></g>
  ${p.points.map(
    (q) =>
      html`<a href="/swatches/${q.swatchId}" tabindex="-1" aria-label="${q.code} ${q.name}"><circle class="map-dot"
        cx="${q.a.toFixed(1)}" cy="${y(q.b)}" r="2.6" fill="${q.hex}"><title>${q.code} ${q.name}</title></circle></a>`,
  )}
  ${p.holes.map(
    (h) =>
      html`<a href="${colourHref(
        h,
        p.goodsQuery,
      )}" aria-label="Hole ${h.number}: ${h.name}"><circle class="map-hole" cx="${h.a.toFixed(1)}" cy="${y(h.b)}"
        r="6"/><text class="map-number" x="${h.a.toFixed(1)}" y="${(-h.b + 2.2).toFixed(1)}"
        text-anchor="middle">${h.number}</text></a>`,
  )}</svg>`;
};

/** Lightness against hue family: every swatch a mark in its family's column, the more chromatic the further right. */
const lightness = (p: MapPageProps): Html => {
  const width = 22;
  const total = width * p.families.length;
  return html`<svg class="map-light" viewBox="-14 -6 ${total + 16} 128" role="img"
    aria-label="Lightness of the swatches by hue family; the table below has the counts">
  <g class="map-lines">${[0, 20, 40, 60, 80, 100].map((L) => html`<path d="M0 ${100 - L}H${total}"/>`)}${p.families.map(
    (_, i) => html`<path d="M${i * width} 0V100"/>`,
  )}<path d="M${total} 0V100"/></g>
  <g class="map-words">${[0, 20, 40, 60, 80, 100].map(
    (L) => html`<text x="-2" y="${102 - L}" text-anchor="end">${L}</text>`,
  )}${p.families.map(
    (f, i) => html`<text x="${i * width + 3}" y="${i % 2 === 0 ? 108 : 116}">${f === 'neutral' ? 'grey' : f}</text>`,
  )}</g>
  ${p.points.map((q) => {
    const column = p.families.indexOf(q.family);
    const x = column * width + 2.5 + Math.min(17, (17 * Math.hypot(q.a, q.b)) / 80);
    return html`<circle class="map-dot" cx="${x.toFixed(1)}" cy="${(100 - q.l).toFixed(1)}" r="2" fill="${q.hex}"/>`;
  })}</svg>`;
};

const table = (p: MapPageProps): Html =>
  html`<div class="table-wrap" tabindex="0" role="region" aria-label="Swatches by hue and lightness">
    <table class="plain map-table"><thead><tr><th scope="col">Hue</th>${p.bands.map(
      (b) => html`<th scope="col" class="num">${b}</th>`,
    )}</tr></thead><tbody>${p.families.map(
      (f) =>
        html`<tr><th scope="row"><a href="/swatches?hue=${f}">${f === 'neutral' ? 'grey' : f}</a></th>${p.bands.map(
          (b) => {
            const cell = p.cells.find((c) => c.family === f && c.lightness === b);
            if (!cell) return html`<td class="num"></td>`;
            if (cell.count > 0) return html`<td class="num"><b>${cell.count}</b></td>`;
            return cell.hole
              ? html`<td class="num map-gap"><a href="${lchHref(
                  cell.hole,
                  p.goodsQuery,
                )}">hole<span class="visually-hidden">: ${cell.hole.name}</span></a></td>`
              : html`<td class="num">·</td>`;
          },
        )}</tr>`,
    )}</tbody></table></div>`;

/** The library from above: where its colours lie, and where the holes are. */
export const mapPage = (p: MapPageProps): Html =>
  html`${pageHead({
    title: 'Library map',
    crumb: { href: '/swatches', label: 'Swatch library' },
    lead: 'Where the swatches lie under D65, 2°, and where there are none although there are some around.',
    actions: html`<a class="button" href="/sampling/next">What to sample next</a><a class="button"
      href="/sampling">Sampling</a>`,
  })}
<form class="stack panel" action="/colour/map" method="get"><div class="grid">${selectField({
    name: 'fibreId',
    label: 'Goods',
    form: p.form,
    options: p.fibres,
    none: 'any',
  })}${selectField({
    name: 'methodId',
    label: 'Method',
    form: p.form,
    options: p.methods,
    none: 'any',
  })}</div><p><button>Show</button></p></form>
${
  p.points.length === 0
    ? emptyState({
        title: 'Nothing on the map yet',
        words: 'A swatch takes its place once its colour was read.',
        action: { href: '/swatches', label: 'To the library' },
      })
    : html`<div class="cols"><section class="panel"><h2>Hue and chroma</h2>${plane(p)}<p class="fine">Grey is in the
      middle. A numbered ring is a hole.${
        p.drawnOf !== null &&
        html` An even part of the ${p.drawnOf.toLocaleString('en')} swatches is drawn and counted.`
      }</p></section>
<section class="panel"><h2>Holes</h2>${
        p.holes.length === 0
          ? html`<p>None: wherever there are swatches around, there is one near.</p>`
          : html`<ol class="map-holes">${p.holes.map(
              (h) =>
                html`<li>${colourDot(h.hex)}<span><a href="${colourHref(
                  h,
                  p.goodsQuery,
                )}">${h.name}</a><br><span class="fine">about L* ${h.l.toFixed(0)}, ${h.distance.toFixed(
                  0,
                )} from the nearest swatch</span></span></li>`,
            )}</ol>`
      }</section></div>
<section class="panel"><h2>Lightness</h2><div class="table-wrap" tabindex="0" role="region"
  aria-label="Lightness by hue">${lightness(p)}</div>${table(p)}<p class="fine">A hole has swatches of its hue one
  band lighter and one band darker. Each leads to recipes proposed for its middle.</p></section>`
}`;
