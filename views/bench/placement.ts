import type { Drawing, PlacementColour, PlacementVersion } from '../../server/lots/schemas.ts';
import { type Html, html } from '../html.ts';
import { type FormState, fieldError, formNotice, textArea } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { type Show, when } from '../kit/show.ts';
import { inkOn, pictureOf, placementFill, placementLegend } from '../lots/placements.ts';

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
  return html`${
    drawn.length > 0 &&
    html`<p class="placement-figures">${drawn.map((v) =>
      pictureOf(v, p.colours, v.of === 'plan' ? 'as meant' : `as it lies, ${when(p.show, v.at)}`),
    )}</p>`
  }<p><a class="button" href="${p.href}">${p.cloth ? 'Draw it anew' : 'Draw how it lies'}</a></p>`;
};

export interface PlacementPageProps {
  lotId: number;
  number: string;
  goodsText: string;
  planned: boolean;
  colours: readonly (PlacementColour & { sharePpm: number; placement: string })[];
  /** What the drawing starts from: the newest version, or an empty grid in the goods' proportions. */
  start: Drawing;
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
<form method="post" action="/lots/${p.lotId}/placements" class="placement-editor" id="placement-editor"
  data-lot="${p.lotId}" data-number="${p.number}" data-now="${p.nowAt}" data-person="${p.person.personId}"
  data-person-name="${p.person.name}" data-drawing="${JSON.stringify(p.start)}" data-colours="${JSON.stringify(
    p.colours.map((c) => {
      const fill = placementFill(c);
      return { ordinal: c.ordinal, name: c.name, sharePpm: c.sharePpm, fill, ink: inkOn(fill) };
    }),
  )}">
  <input type="hidden" name="clientId" value="${p.clientId}"><input type="hidden" name="drawing"
    value="${JSON.stringify(p.start)}">
  <noscript><p class="notice warn">Drawing needs scripts, which are switched off here. Tell in words how it lies; the
    words are kept as a version of their own.</p></noscript>
  <div class="placement-tools"></div>
  <div class="placement-board"></div>
  ${fieldError('drawing', p.form)}
  ${textArea({
    name: 'text',
    label: 'In words',
    form: p.form,
    rows: 2,
    hint: 'What a drawing cannot say: scrunched, the folds stand up on the rack.',
  })}
  <div class="taps">${
    p.planned && html`<button class="primary big" name="of" value="plan">Keep it as the plan</button>`
  }<button class="${p.planned ? '' : 'primary big'}" name="of" value="cloth">It lies like this</button></div>
  <p class="placement-said" role="status"></p>
</form>
${
  p.colours.some((c) => c.placement !== '') &&
  html`<p>As planned in words: ${p.colours
    .filter((c) => c.placement !== '')
    .map((c) => html`<b>${c.ordinal} ${c.name}</b>: ${c.placement}. `)}</p>`
}
${
  p.versions.length > 0 &&
  html`<section class="panel"><h2>Versions</h2><ol class="placement-versions">${[...p.versions]
    .reverse()
    .map(
      (v) =>
        html`<li>${pictureOf(v, p.colours, v.of === 'plan' ? 'as meant' : 'as it lay')}<span>${when(
          p.show,
          v.at,
        )}, ${v.person}<br>${v.words}${v.text && html`<br>${v.text}`}</span></li>`,
    )}</ol>${placementLegend(
    p.colours,
    p.versions.map((v) => v.drawing),
  )}</section>`
}</div>`;
