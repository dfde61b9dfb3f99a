import type { Drawing, PlacementColour, PlacementVersion } from '../../server/lots/schemas.ts';
import { type Html, html } from '../html.ts';
import { type Show, when } from '../kit/show.ts';

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
function regionsOf(d: Drawing): { colour: number; column: number; row: number }[] {
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

const strips = (d: Drawing, fills: ReadonlyMap<number, string>): Html[] =>
  Array.from({ length: d.rows }, (_, row) => row).flatMap((row) => {
    const out: Html[] = [];
    for (let column = 0; column < d.columns; ) {
      const colour = d.cells[row * d.columns + column] ?? 0;
      let end = column + 1;
      while (end < d.columns && d.cells[row * d.columns + end] === colour) end += 1;
      if (colour !== 0)
        out.push(
          html`<rect x="${column * CELL}" y="${row * CELL}" width="${
            (end - column) * CELL
          }" height="${CELL + 0.4}" fill="${fills.get(colour) ?? BARE}"/>`,
        );
      column = end;
    }
    return out;
  });

const line = (l: Drawing['lines'][number]): Html => {
  const at = html`x1="${(l.x1 * CELL) / 2}" y1="${(l.y1 * CELL) / 2}" x2="${(l.x2 * CELL) / 2}" y2="${
    (l.y2 * CELL) / 2
  }"`;
  return l.kind === 'fold'
    ? html`<line ${at} stroke="#fff" stroke-width="4"/><line ${at} stroke="#000" stroke-width="1.8"
      stroke-dasharray="6 4"/>`
    : html`<line ${at} stroke="#fff" stroke-width="7"/><line ${at} stroke="#000" stroke-width="4.6"/><line ${at}
      stroke="#fff" stroke-width="4.6" stroke-dasharray="1.4 3.4"/>`;
};

const iceMark = (x: number, y: number): Html =>
  html`<g fill="#fff" stroke="#000" stroke-width=".9">${[
    [4.5, 4.5],
    [15.5, 6],
    [6, 15.5],
  ].map(([dx = 0, dy = 0]) => html`<circle cx="${x + dx}" cy="${y + dy}" r="2.3"/>`)}</g>`;

const clampMark = (x: number, y: number): Html =>
  html`<g stroke="#000" stroke-width="1.6" fill="#fff"><rect x="${x + 3}" y="${y + 3}" width="14" height="14"/><path
    d="M${x + 3} ${y + 3}l14 14M${x + 17} ${y + 3}l-14 14"/></g>`;

/** A drawing as a picture: every region with its number, so that it reads without colour. */
export function placementSvg(p: {
  drawing: Drawing;
  colours: readonly PlacementColour[];
  label: string;
  size?: 'small' | 'large';
}): Html {
  const { drawing: d } = p;
  const fills = new Map(p.colours.map((c) => [c.ordinal, placementFill(c)]));
  const at = (cell: number): [number, number] => [(cell % d.columns) * CELL, Math.floor(cell / d.columns) * CELL];
  const width = d.columns * CELL;
  const height = d.rows * CELL;
  return html`<svg class="placement placement-${
    p.size ?? 'small'
  }" viewBox="-2 -2 ${width + 4} ${height + 4}" role="img" aria-label="${p.label}"><rect x="0" y="0" width="${width}"
    height="${height}" fill="${BARE}"/>${strips(d, fills)}<rect x="0" y="0" width="${width}" height="${height}"
    fill="none" stroke="#444"
    stroke-width="2"/>${d.ice.map((c) => iceMark(...at(c)))}${d.clamps.map((c) => clampMark(...at(c)))}${d.lines.map(
      line,
    )}${regionsOf(d).map((r) => {
      const ink = inkOn(fills.get(r.colour) ?? BARE);
      return html`<text x="${r.column * CELL + CELL / 2}" y="${
        r.row * CELL + CELL / 2
      }" text-anchor="middle" dominant-baseline="central" font-size="17" font-weight="700" fill="${ink}" stroke="${
        ink === '#000000' ? '#ffffff' : '#000000'
      }" stroke-width="2.6" paint-order="stroke">${r.colour}</text>`;
    })}</svg>`;
}

const used = (drawings: readonly Drawing[], test: (d: Drawing) => boolean): boolean => drawings.some(test);

/** What the marks mean, as far as they are there. */
export const placementLegend = (
  colours: readonly PlacementColour[],
  drawings: readonly Drawing[],
): Html => html`<ul class="placement-legend">${colours
  .filter((c) => used(drawings, (d) => d.cells.includes(c.ordinal)))
  .map(
    (c) =>
      html`<li><svg viewBox="0 0 20 20" aria-hidden="true"><rect width="20" height="20" fill="${placementFill(
        c,
      )}" stroke="#444"/></svg><b>${c.ordinal}</b> ${c.name}${
        c.hex === null && html` <span class="fine">colour not read yet</span>`
      }</li>`,
  )}
  ${
    used(drawings, (d) => d.lines.some((l) => l.kind === 'fold')) &&
    html`<li><svg viewBox="0 0 20 20" aria-hidden="true">${line({
      kind: 'fold',
      x1: 0,
      y1: 1,
      x2: 2,
      y2: 1,
    })}</svg>fold</li>`
  }
  ${
    used(drawings, (d) => d.lines.some((l) => l.kind === 'binding')) &&
    html`<li><svg viewBox="0 0 20 20" aria-hidden="true">${line({
      kind: 'binding',
      x1: 0,
      y1: 1,
      x2: 2,
      y2: 1,
    })}</svg>binding</li>`
  }
  ${
    used(drawings, (d) => d.clamps.length > 0) &&
    html`<li><svg viewBox="0 0 20 20"
    aria-hidden="true">${clampMark(0, 0)}</svg>clamp or block</li>`
  }
  ${
    used(drawings, (d) => d.ice.length > 0) &&
    html`<li><svg viewBox="0 0 20 20" aria-hidden="true"><rect width="20"
    height="20" fill="${BARE}"/>${iceMark(0, 0)}</svg>ice</li>`
  }</ul>`;

export const pictureOf = (
  v: PlacementVersion,
  colours: readonly PlacementColour[],
  caption: string,
  size: 'small' | 'large' = 'small',
): Html =>
  html`<span class="placement-figure">${placementSvg({
    drawing: v.drawing,
    colours,
    label: `${caption}: ${v.words}`,
    size,
  })}<span class="fine">${caption}</span></span>`;

/** One version as the log shows it: the drawing, and the planned one beside it. */
export const placementInLog = (p: {
  version: PlacementVersion;
  plan: PlacementVersion | null;
  colours: readonly PlacementColour[];
}): Html =>
  html`<span class="placement-figures">${pictureOf(
    p.version,
    p.colours,
    p.version.of === 'plan' ? 'as meant' : 'as it lies',
  )}${p.plan && p.version.of === 'cloth' && pictureOf(p.plan, p.colours, 'as meant')}</span>`;

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
      : html`<p class="placement-figures">${drawn.map((v) =>
          pictureOf(
            v,
            p.colours,
            v.of === 'plan' ? `as meant, ${when(p.show, v.at)}` : `as it lies, ${when(p.show, v.at)}`,
            'large',
          ),
        )}</p>
  ${placementLegend(
    p.colours,
    drawn.map((v) => v.drawing),
  )}${
    p.versions.length > drawn.length &&
    html`<p class="fine">${p.versions.length} versions in all; each stands in the log below, at its time.</p>`
  }`
  }${
    p.drawHref &&
    html`<p><a class="button" href="${p.drawHref}">${
      drawn.length === 0 ? 'Draw the placement' : 'Draw it anew'
    }</a></p>`
  }</section>`;
};
