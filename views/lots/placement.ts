import { type Html, html } from '../html.ts';
import { type FormState, fieldError, formNotice, textArea } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { type Show, when } from '../kit/show.ts';

export interface DrawingView {
  columns: number;
  rows: number;
  /** A cell's colour by its number in the lot, row by row; 0 is bare. */
  cells: readonly number[];
  ice: readonly number[];
  clamps: readonly number[];
  lines: readonly { kind: 'fold' | 'binding'; x1: number; y1: number; x2: number; y2: number }[];
}

export interface PlacementColour {
  ordinal: number;
  name: string;
  /** From the swatch that the colour follows; null where its colour was never read. */
  hex: string | null;
}

/** Greys for colours that nobody has read; the number on them tells them apart. */
const UNREAD = ['#e2e2e2', '#bdbdbd', '#8f8f8f', '#666666', '#d0d0d0', '#a6a6a6', '#7b7b7b', '#525252'];
const BARE = '#fbfbf8';

export const placementFill = (colour: PlacementColour): string =>
  colour.hex ?? UNREAD[(colour.ordinal - 1) % UNREAD.length] ?? BARE;

/** Black or white, whichever stands out from the fill (WCAG 2.2, relative luminance). */
export function inkOn(hex: string): '#000000' | '#ffffff' {
  const channel = (at: number): number => {
    const v = Number.parseInt(hex.slice(at, at + 2), 16) / 255;
    return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
  };
  const luminance = 0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5);
  return luminance > 0.179 ? '#000000' : '#ffffff';
}

const CELL = 20;

/** Regions of one colour that hang together, each with the cell nearest to its middle: there its number stands. */
function regionsOf(d: DrawingView): { colour: number; column: number; row: number }[] {
  const seen = new Set<number>();
  const regions: { colour: number; column: number; row: number }[] = [];
  d.cells.forEach((colour, start) => {
    if (colour === 0 || seen.has(start)) return;
    const cells: number[] = [];
    const queue = [start];
    seen.add(start);
    for (let cell = queue.pop(); cell !== undefined; cell = queue.pop()) {
      cells.push(cell);
      const column = cell % d.columns;
      for (const next of [
        column > 0 ? cell - 1 : -1,
        column < d.columns - 1 ? cell + 1 : -1,
        cell - d.columns,
        cell + d.columns,
      ]) {
        if (next < 0 || seen.has(next) || d.cells[next] !== colour) continue;
        seen.add(next);
        queue.push(next);
      }
    }
    const mean = (of: (cell: number) => number): number => cells.reduce((sum, c) => sum + of(c), 0) / cells.length;
    const x = mean((c) => c % d.columns);
    const y = mean((c) => Math.floor(c / d.columns));
    const away = (c: number): number => ((c % d.columns) - x) ** 2 + (Math.floor(c / d.columns) - y) ** 2;
    const middle = cells.reduce((best, c) => (away(c) < away(best) ? c : best), start);
    regions.push({ colour, column: middle % d.columns, row: Math.floor(middle / d.columns) });
  });
  return regions;
}

const strips = (d: DrawingView, fills: ReadonlyMap<number, string>): Html[] =>
  Array.from({ length: d.rows }, (_, row) => row).flatMap((row) => {
    const out: Html[] = [];
    for (let column = 0; column < d.columns; ) {
      const colour = d.cells[row * d.columns + column] ?? 0;
      let end = column + 1;
      while (end < d.columns && d.cells[row * d.columns + end] === colour) end += 1;
      if (colour !== 0)
        out.push(
          html`<rect x="${column * CELL}" y="${row * CELL}" width="${(end - column) * CELL}" height="${CELL + 0.4}" fill="${fills.get(colour) ?? BARE}"/>`,
        );
      column = end;
    }
    return out;
  });

const line = (l: DrawingView['lines'][number]): Html => {
  const at = html`x1="${(l.x1 * CELL) / 2}" y1="${(l.y1 * CELL) / 2}" x2="${(l.x2 * CELL) / 2}" y2="${(l.y2 * CELL) / 2}"`;
  return l.kind === 'fold'
    ? html`<line ${at} stroke="#fff" stroke-width="4"/><line ${at} stroke="#000" stroke-width="1.8" stroke-dasharray="6 4"/>`
    : html`<line ${at} stroke="#fff" stroke-width="7"/><line ${at} stroke="#000" stroke-width="4.6"/><line ${at} stroke="#fff" stroke-width="4.6" stroke-dasharray="1.4 3.4"/>`;
};

const iceMark = (x: number, y: number): Html =>
  html`<g fill="#fff" stroke="#000" stroke-width=".9">${[
    [4.5, 4.5],
    [15.5, 6],
    [6, 15.5],
  ].map(([dx = 0, dy = 0]) => html`<circle cx="${x + dx}" cy="${y + dy}" r="2.3"/>`)}</g>`;
const clampMark = (x: number, y: number): Html =>
  html`<g stroke="#000" stroke-width="1.6" fill="#fff"><rect x="${x + 3}" y="${y + 3}" width="14" height="14"/><path d="M${x + 3} ${y + 3}l14 14M${x + 17} ${y + 3}l-14 14"/></g>`;

/** A drawing as a picture: every region with its number, so that it reads without colour. */
export function placementSvg(p: {
  drawing: DrawingView;
  colours: readonly PlacementColour[];
  label: string;
  size?: 'small' | 'large';
}): Html {
  const { drawing: d } = p;
  const fills = new Map(p.colours.map((c) => [c.ordinal, placementFill(c)]));
  const at = (cell: number): [number, number] => [(cell % d.columns) * CELL, Math.floor(cell / d.columns) * CELL];
  const width = d.columns * CELL;
  const height = d.rows * CELL;
  return html`<svg class="placement placement-${p.size ?? 'small'}" viewBox="-2 -2 ${width + 4} ${height + 4}" role="img" aria-label="${p.label}"><rect x="0" y="0" width="${width}" height="${height}" fill="${BARE}"/>${strips(d, fills)}<rect x="0" y="0" width="${width}" height="${height}" fill="none" stroke="#444" stroke-width="2"/>${d.ice.map((c) => iceMark(...at(c)))}${d.clamps.map((c) => clampMark(...at(c)))}${d.lines.map(line)}${regionsOf(
    d,
  ).map((r) => {
    const ink = inkOn(fills.get(r.colour) ?? BARE);
    return html`<text x="${r.column * CELL + CELL / 2}" y="${r.row * CELL + CELL / 2}" text-anchor="middle" dominant-baseline="central" font-size="17" font-weight="700" fill="${ink}" stroke="${ink === '#000000' ? '#ffffff' : '#000000'}" stroke-width="2.6" paint-order="stroke">${r.colour}</text>`;
  })}</svg>`;
}

const used = (drawings: readonly DrawingView[], test: (d: DrawingView) => boolean): boolean => drawings.some(test);

/** What the marks mean, as far as they are there. */
export const placementLegend = (
  colours: readonly PlacementColour[],
  drawings: readonly DrawingView[],
): Html => html`<ul class="placement-legend">${colours
  .filter((c) => used(drawings, (d) => d.cells.includes(c.ordinal)))
  .map(
    (c) =>
      html`<li><svg viewBox="0 0 20 20" aria-hidden="true"><rect width="20" height="20" fill="${placementFill(c)}" stroke="#444"/></svg><b>${c.ordinal}</b> ${c.name}${c.hex === null && html` <span class="fine">colour not read yet</span>`}</li>`,
  )}
  ${used(drawings, (d) => d.lines.some((l) => l.kind === 'fold')) && html`<li><svg viewBox="0 0 20 20" aria-hidden="true">${line({ kind: 'fold', x1: 0, y1: 1, x2: 2, y2: 1 })}</svg>fold</li>`}
  ${used(drawings, (d) => d.lines.some((l) => l.kind === 'binding')) && html`<li><svg viewBox="0 0 20 20" aria-hidden="true">${line({ kind: 'binding', x1: 0, y1: 1, x2: 2, y2: 1 })}</svg>binding</li>`}
  ${used(drawings, (d) => d.clamps.length > 0) && html`<li><svg viewBox="0 0 20 20" aria-hidden="true">${clampMark(0, 0)}</svg>clamp or block</li>`}
  ${used(drawings, (d) => d.ice.length > 0) && html`<li><svg viewBox="0 0 20 20" aria-hidden="true"><rect width="20" height="20" fill="${BARE}"/>${iceMark(0, 0)}</svg>ice</li>`}</ul>`;

export interface PlacementVersion {
  entryId: number;
  at: number;
  person: string;
  of: 'plan' | 'cloth';
  drawing: DrawingView;
  /** What is drawn, in words. */
  words: string;
  text: string;
}

const pictureOf = (
  v: PlacementVersion,
  colours: readonly PlacementColour[],
  caption: string,
  size: 'small' | 'large' = 'small',
): Html =>
  html`<span class="placement-figure">${placementSvg({ drawing: v.drawing, colours, label: `${caption}: ${v.words}`, size })}<span class="fine">${caption}</span></span>`;

/** One version as the log shows it: the drawing, and the planned one beside it. */
export const placementInLog = (p: {
  version: PlacementVersion;
  plan: PlacementVersion | null;
  colours: readonly PlacementColour[];
}): Html =>
  html`<span class="placement-figures">${pictureOf(p.version, p.colours, p.version.of === 'plan' ? 'as meant' : 'as it lies')}${p.plan && p.version.of === 'cloth' && pictureOf(p.plan, p.colours, 'as meant')}</span>`;

/** Where the placement stands: meant and real, large, with the legend. For the lot's page. */
export const placementPanel = (p: {
  plan: PlacementVersion | null;
  cloth: PlacementVersion | null;
  versions: readonly PlacementVersion[];
  colours: readonly PlacementColour[];
  show: Show;
  drawHref: string | null;
}): Html | '' => {
  const drawn = [p.plan, p.cloth].flatMap((v) => (v ? [v] : []));
  if (drawn.length === 0 && p.drawHref === null) return '';
  return html`<section class="panel" id="placement"><h2>Placement</h2>${
    drawn.length === 0
      ? html`<p>Not drawn yet.</p>`
      : html`<p class="placement-figures">${drawn.map((v) => pictureOf(v, p.colours, v.of === 'plan' ? `as meant, ${when(p.show, v.at)}` : `as it lies, ${when(p.show, v.at)}`, 'large'))}</p>
  ${placementLegend(
    p.colours,
    drawn.map((v) => v.drawing),
  )}${p.versions.length > drawn.length && html`<p class="fine">${p.versions.length} versions in all; each stands in the log below, at its time.</p>`}`
  }${p.drawHref && html`<p><a class="button" href="${p.drawHref}">${drawn.length === 0 ? 'Draw the placement' : 'Draw it anew'}</a></p>`}</section>`;
};

export interface PlacementAtBench {
  plan: PlacementVersion | null;
  cloth: PlacementVersion | null;
  colours: readonly PlacementColour[];
  href: string;
  show: Show;
}

/** Where the placement stands, small, and the way to draw it: one tap. */
export const placementAtBench = (p: PlacementAtBench): Html => {
  const drawn = [p.plan, p.cloth].flatMap((v) => (v ? [v] : []));
  return html`${drawn.length > 0 && html`<p class="placement-figures">${drawn.map((v) => pictureOf(v, p.colours, v.of === 'plan' ? 'as meant' : `as it lies, ${when(p.show, v.at)}`))}</p>`}<p><a class="button" href="${p.href}">${p.cloth ? 'Draw it anew' : 'Draw how it lies'}</a></p>`;
};

export interface PlacementPageProps {
  lotId: number;
  number: string;
  goodsText: string;
  planned: boolean;
  colours: readonly (PlacementColour & { sharePpm: number; placement: string })[];
  /** What the drawing starts from: the newest version, or an empty grid in the goods' proportions. */
  start: DrawingView;
  versions: readonly PlacementVersion[];
  show: Show;
  nowAt: number;
  person: { personId: number; name: string };
  clientId: string;
  form: FormState;
}

/** The editor. Its grid is made by static/placement.js; without it the placement is told in words. */
export const placementPage = (p: PlacementPageProps): Html => html`<div class="placement-page">${pageHead({
  title: `Placement, lot ${p.number}`,
  crumb: { href: `/lots/${p.lotId}/bench`, label: 'Bench' },
  lead: p.goodsText,
})}
${formNotice(p.form)}
<form method="post" action="/lots/${p.lotId}/placements" class="placement-editor" id="placement-editor" data-lot="${p.lotId}" data-number="${p.number}" data-now="${p.nowAt}" data-person="${p.person.personId}" data-person-name="${p.person.name}" data-drawing="${JSON.stringify(p.start)}" data-colours="${JSON.stringify(
  p.colours.map((c) => {
    const fill = placementFill(c);
    return { ordinal: c.ordinal, name: c.name, sharePpm: c.sharePpm, fill, ink: inkOn(fill) };
  }),
)}">
  <input type="hidden" name="clientId" value="${p.clientId}"><input type="hidden" name="drawing" value="${JSON.stringify(p.start)}">
  <noscript><p class="notice warn">Drawing needs scripts, which are switched off here. Tell in words how it lies; the words are kept as a version of their own.</p></noscript>
  <div class="placement-tools"></div>
  <div class="placement-board"></div>
  ${fieldError('drawing', p.form)}
  ${textArea({ name: 'text', label: 'In words', form: p.form, rows: 2, hint: 'What a drawing cannot say: scrunched, the folds stand up on the rack.' })}
  <div class="taps">${p.planned && html`<button class="primary big" name="of" value="plan">Keep it as the plan</button>`}<button class="${p.planned ? '' : 'primary big'}" name="of" value="cloth">It lies like this</button></div>
  <p class="placement-said" role="status"></p>
</form>
${
  p.colours.some((c) => c.placement !== '') &&
  html`<p>As planned in words: ${p.colours.filter((c) => c.placement !== '').map((c) => html`<b>${c.ordinal} ${c.name}</b>: ${c.placement}. `)}</p>`
}
${
  p.versions.length > 0 &&
  html`<section class="panel"><h2>Versions</h2><ol class="placement-versions">${[...p.versions]
    .reverse()
    .map(
      (v) =>
        html`<li>${pictureOf(v, p.colours, v.of === 'plan' ? 'as meant' : 'as it lay')}<span>${when(p.show, v.at)}, ${v.person}<br>${v.words}${v.text && html`<br>${v.text}`}</span></li>`,
    )}</ol>${placementLegend(
    p.colours,
    p.versions.map((v) => v.drawing),
  )}</section>`
}</div>`;
