import { type Html, html } from '../html.ts';
import { clock, type Show, temperature } from '../kit/show.ts';

export interface TemperatureReading {
  at: number;
  tempC: number;
}
export interface PlottedStep {
  name: string;
  startedAt: number;
  endedAt: number;
  plannedTempC: number | null;
}

const WIDTH = 720;
const LEFT = 48;
const RIGHT = 14;
const TOP = 26;
const PLOT = 170;
const BOTTOM = 30;
/** Distances of °C or °F between lines of the scale, the first that gives at most six. */
const TICKS = [1, 2, 5, 10, 20, 25, 50, 100];
/** The same for the clock, in minutes. */
const TICK_MINUTES = [1, 2, 5, 10, 15, 30, 60, 120, 240, 360, 720, 1440, 2880, 10_080];
const HOLDS = 6;

const ticksOf = (from: number, to: number, steps: readonly number[]): number[] => {
  const step =
    steps.find((s) => (to - from) / s <= HOLDS) ??
    (steps.at(-1) as number) * Math.ceil((to - from) / (HOLDS * (steps.at(-1) as number)));
  const first = Math.ceil(from / step) * step;
  return Array.from({ length: Math.floor((to - first) / step) + 1 }, (_, i) => first + i * step);
};

/** Temperatures as they were read, over the steps in which they were, with the planned temperature of each step
 *  dashed. */
export function temperaturePlot(p: {
  readings: readonly TemperatureReading[];
  steps: readonly PlottedStep[];
  show: Show;
}): Html | '' {
  if (p.readings.length < 2) return '';
  const fahrenheit = p.show.units === 'us';
  const scale = (tempC: number): number => (fahrenheit ? tempC * 1.8 + 32 : tempC);
  const readings = [...p.readings].sort((a, b) => a.at - b.at);
  const times = [...readings.map((r) => r.at), ...p.steps.flatMap((s) => [s.startedAt, s.endedAt])];
  const start = Math.min(...times);
  const end = Math.max(...times, start + 60_000);
  const temps = [
    ...readings.map((r) => r.tempC),
    ...p.steps.flatMap((s) => (s.plannedTempC === null ? [] : [s.plannedTempC])),
  ].map(scale);
  const low = Math.min(...temps) - 3;
  const high = Math.max(...temps) + 3;
  const x = (at: number): number => Number((LEFT + ((WIDTH - LEFT - RIGHT) * (at - start)) / (end - start)).toFixed(1));
  const y = (value: number): number => Number((TOP + (PLOT * (high - value)) / (high - low)).toFixed(1));
  const minutes = ticksOf(0, (end - start) / 60_000, TICK_MINUTES);
  const hottest = readings.reduce((best, r) => (r.tempC > best.tempC ? r : best));
  const coolest = readings.reduce((best, r) => (r.tempC < best.tempC ? r : best));
  const label = `${readings.length} temperatures from ${temperature(p.show, coolest.tempC)} to ${temperature(
    p.show,
    hottest.tempC,
  )}, between ${clock(p.show, start)} and ${clock(p.show, end)}`;
  return html`<svg class="temperature-plot" viewBox="0 0 ${WIDTH} ${
    TOP + PLOT + BOTTOM
  }" role="img" aria-label="${label}">${p.steps.map((s, i) => {
    const from = x(s.startedAt);
    const to = Math.max(from + 1, x(s.endedAt));
    const room = Math.floor((to - from) / 6.4);
    return html`<g><title>${s.name}</title><rect class="plot-step" x="${from}" y="${TOP}" width="${to - from}"
      height="${PLOT}"/>${
        room > 4 &&
        html`<text x="${from + 4}"
      y="${TOP - (i % 2 === 0 ? 7 : 15)}">${s.name.length > room ? `${s.name.slice(0, room - 1)}…` : s.name}</text>`
      }</g>`;
  })}${ticksOf(low, high, TICKS).map(
    (t) => html`<line class="plot-axis" x1="${LEFT}" x2="${WIDTH - RIGHT}"
    y1="${y(t)}" y2="${y(t)}"/><text x="${LEFT - 6}" y="${y(t) + 4}" text-anchor="end">${t}°</text>`,
  )}${minutes.map(
    (m) =>
      html`<text x="${x(start + m * 60_000)}" y="${TOP + PLOT + 18}" text-anchor="middle">${clock(
        p.show,
        start + m * 60_000,
      )}</text>`,
  )}${p.steps.map(
    (s) =>
      s.plannedTempC !== null &&
      html`<line class="plot-planned" x1="${x(s.startedAt)}" x2="${Math.max(x(s.startedAt) + 1, x(s.endedAt))}" y1="${y(
        scale(s.plannedTempC),
      )}" y2="${y(scale(s.plannedTempC))}"/>`,
  )}<polyline class="plot-read"
    points="${readings.map((r) => `${x(r.at)},${y(scale(r.tempC))}`).join(' ')}"/>${readings.map(
      (r) =>
        html`<circle cx="${x(r.at)}" cy="${y(scale(r.tempC))}" r="4"><title>${clock(p.show, r.at)}: ${temperature(
          p.show,
          r.tempC,
        )}</title></circle>`,
    )}</svg>
  <p class="fine">Points: as read. Dashed: as planned for the step.</p>`;
}
