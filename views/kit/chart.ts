import { type Html, html, type Value } from '../html.ts';

/* Plots as SVG, made on the server. Lengths are percentages of the box they stand in, so that bars stretch with the
   page and letters do not; parts are told apart by pattern, never by colour. Each plot names itself and stands beside
   its table. */

export type Pattern = 'solid' | 'hatch' | 'dots' | 'plain' | 'cross' | 'bars';

export interface Series {
  key: string;
  label: string;
  pattern: Pattern;
}

export interface Part {
  series: Series;
  value: number;
}

const fill = (pattern: Pattern): string => (pattern === 'plain' ? 'none' : `url(#fill-${pattern})`);

/** The patterns, once a page, before the first plot. */
export const chartPatterns =
  (): Html => html`<svg class="chart-patterns" width="0" height="0" aria-hidden="true" focusable="false"><defs>
<pattern id="fill-solid" width="4" height="4" patternUnits="userSpaceOnUse"><rect class="chart-ink" width="4"
  height="4"/></pattern>
<pattern id="fill-hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect
  class="chart-ink" width="2.2" height="6"/></pattern>
<pattern id="fill-dots" width="6" height="6" patternUnits="userSpaceOnUse"><circle class="chart-ink" cx="3" cy="3"
  r="1.5"/></pattern>
<pattern id="fill-cross" width="7" height="7" patternUnits="userSpaceOnUse"><path class="chart-line"
  d="M0 0l7 7M7 0l-7 7"/></pattern>
<pattern id="fill-bars" width="4" height="5" patternUnits="userSpaceOnUse"><rect class="chart-ink" width="4"
  height="1.6"/></pattern>
</defs></svg>`;

/** What the patterns mean. */
export const chartLegend = (series: readonly Series[], mark?: string): Html =>
  html`<ul class="chart-legend">${series.map(
    (s) =>
      html`<li><svg width="26" height="16" aria-hidden="true"><rect class="chart-part" x="1" y="1" width="24"
        height="14" fill="${fill(s.pattern)}"/></svg>${s.label}</li>`,
  )}${
    mark &&
    html`<li><svg width="26" height="16" aria-hidden="true"><line class="chart-mark" x1="1" y1="8" x2="25"
    y2="8"/></svg>${mark}</li>`
  }</ul>`;

const pct = (part: number, whole: number): string => `${Math.max(0, whole > 0 ? (100 * part) / whole : 0).toFixed(3)}%`;

/** One bar of parts, to a scale that it shares with its neighbours in a table; `mark` is a tick on the same scale. */
export const stackBar = (props: {
  label: string;
  parts: readonly Part[];
  most: number;
  mark?: number | null;
}): Html => {
  let from = 0;
  const most = Math.max(props.most, 1e-9);
  return html`<svg class="chart-bar" width="100%" height="20" role="img" aria-label="${props.label}">${props.parts
    .filter((p) => p.value > 0)
    .map((p) => {
      const x = from;
      from += p.value;
      return html`<rect class="chart-part" x="${pct(x, most)}" y="2" width="${pct(
        p.value,
        most,
      )}" height="16" fill="${fill(p.series.pattern)}"/>`;
    })}${
    props.mark != null &&
    html`<line class="chart-mark" x1="${pct(props.mark, most)}" y1="0" x2="${pct(props.mark, most)}" y2="20"/>`
  }</svg>`;
};

/** More or less than before, from the middle: more is solid to the right, less is hatched to the left. */
export const effectBar = (props: { label: string; value: number; most: number }): Html => {
  const width = (50 * Math.min(Math.abs(props.value), props.most)) / Math.max(props.most, 1e-9);
  const x = props.value < 0 ? 50 - width : 50;
  return html`<svg class="chart-bar" width="100%" height="20" role="img" aria-label="${props.label}"><rect
    class="chart-part" x="${x.toFixed(3)}%" y="2" width="${width.toFixed(3)}%" height="16"
    fill="${fill(props.value < 0 ? 'hatch' : 'solid')}"/><line class="chart-axis" x1="50%" y1="0" x2="50%"
    y2="20"/></svg>`;
};

/** Steps of 1, 2 or 5 that reach the highest value in at most six steps. */
export function ticksUpTo(most: number): number[] {
  if (!(most > 0)) return [0];
  const rough = most / 6;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = ([1, 2, 5, 10].find((n) => n * power >= rough * 0.999) ?? 10) * power;
  return Array.from({ length: Math.ceil(most / step - 1e-9) + 1 }, (_, i) => i * step);
}

export interface Column {
  label: string;
  parts: readonly Part[];
  mark?: number | null;
  /** Said when one points at it. */
  title: string;
}

const GUTTER = 13;

/** Columns of parts over a row of labels. */
export const columnChart = (props: {
  id: string;
  title: string;
  description: string;
  columns: readonly Column[];
  axis: (value: number) => string;
  caption?: Value;
}): Html => {
  const { columns } = props;
  const total = (c: Column): number => c.parts.reduce((sum, p) => sum + Math.max(0, p.value), 0);
  const ticks = ticksUpTo(Math.max(...columns.map((c) => Math.max(total(c), c.mark ?? 0)), 0));
  const top = Math.max(ticks.at(-1) ?? 0, 1e-9);
  const pitch = (100 - GUTTER) / Math.max(columns.length, 1);
  const width = pitch * 0.66;
  const every = Math.ceil(columns.length / 12);
  const height = (value: number): number => (100 * value) / top;
  return html`<figure class="chart"><svg width="100%" height="270"
    role="img" aria-labelledby="${props.id}-title ${props.id}-desc"><title
      id="${props.id}-title">${props.title}</title><desc
    id="${props.id}-desc">${props.description}</desc>
<svg x="0" y="14" width="100%" height="222" overflow="visible">${ticks.map((t) => {
    const y = (100 - height(t)).toFixed(2);
    return html`<line class="chart-grid" x1="${GUTTER}%" x2="100%" y1="${y}%" y2="${y}%"/><text class="chart-text"
      x="${GUTTER - 1}%" y="${y}%" dy="0.32em" text-anchor="end">${props.axis(t)}</text>`;
  })}${columns.map((c, i) => {
    const x = GUTTER + i * pitch + (pitch - width) / 2;
    let base = 0;
    return html`<g><title>${c.title}</title>${c.parts
      .filter((p) => p.value > 0)
      .map((p) => {
        base += p.value;
        return html`<rect class="chart-part" x="${x.toFixed(2)}%" y="${(100 - height(base)).toFixed(2)}%"
          width="${width.toFixed(2)}%" height="${height(p.value).toFixed(2)}%" fill="${fill(p.series.pattern)}"/>`;
      })}${
      c.mark != null &&
      html`<line class="chart-mark" x1="${(x - pitch * 0.1).toFixed(2)}%" x2="${(x + width + pitch * 0.1).toFixed(
        2,
      )}%" y1="${(100 - height(c.mark)).toFixed(2)}%" y2="${(100 - height(c.mark)).toFixed(2)}%"/>`
    }${
      i % every === 0 &&
      html`<text class="chart-text" x="${(x + width / 2).toFixed(
        2,
      )}%" y="100%" dy="1.4em" text-anchor="middle">${c.label}</text>`
    }</g>`;
  })}</svg></svg>${props.caption && html`<figcaption class="fine">${props.caption}</figcaption>`}</figure>`;
};
