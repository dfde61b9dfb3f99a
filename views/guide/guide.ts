import { type Html, html, type Value } from '../html.ts';
import { pageHead } from '../kit/pageHead.ts';
import type { GuideGroup, GuidePart, GuideSection } from './section.ts';

/** The words of the guide: [words on a screen] and `typed ones` are set apart. */
const words = (text: string): Value =>
  text
    .split(/(\[[^\]]+\]|`[^`]+`)/)
    .map((piece) =>
      piece.startsWith('[')
        ? html`<b>${piece.slice(1, -1)}</b>`
        : piece.startsWith('`')
          ? html`<code>${piece.slice(1, -1)}</code>`
          : piece,
    );

const hrefOf = (section: Pick<GuideSection, 'slug'>): string => `/guide/${section.slug}`;

const link = (section: GuideSection): Html => html`<a href="${hrefOf(section)}">${section.title}</a>`;

/** The contents of the guide. */
export const guideContents = (props: { groups: readonly GuideGroup[] }): Html => html`${pageHead({
  title: 'Guide',
  lead: 'What each screen is for, what to do there, and what goes wrong. The ? on a screen opens its section here, in a tab of its own.',
})}
<div class="guide-groups">${props.groups.map(
  (group) =>
    html`<section><h2>${group.title}</h2><ul class="guide-list">${group.sections.map(
      (section) => html`<li>${link(section)}<span class="hint">${words(section.lead)}</span></li>`,
    )}</ul></section>`,
)}</div>`;

const part = (p: GuidePart, ordinal: number): Html => html`<section class="panel" id="part-${ordinal}">
<h2>${words(p.heading)}</h2>${p.text.map((text) => html`<p>${words(text)}</p>`)}${
  p.steps && html`<ol>${p.steps.map((step) => html`<li>${words(step)}</li>`)}</ol>`
}</section>`;

export interface GuideSectionProps {
  section: GuideSection;
  before: GuideSection | null;
  after: GuideSection | null;
  also: readonly GuideSection[];
  /** A whole script to read and to take away. */
  script: { href: string; text: string } | null;
}

/** One section, with the ways to its screen, to what goes on from it and to its neighbours. */
export const guideSection = (p: GuideSectionProps): Html => {
  const screen = p.section.screens.find((route) => !route.includes(':'));
  return html`<div class="guide">${pageHead({
    title: p.section.title,
    crumb: { href: '/guide', label: 'Guide' },
    lead: words(p.section.lead),
    actions: screen && html`<a class="button" href="${screen}">Open the screen</a>`,
  })}
${p.section.parts.map(part)}
${
  p.script &&
  html`<section class="panel"><h2>The whole way as a script</h2><p><a href="${p.script.href}" download>Download the
    script</a></p><pre tabindex="0"><code>${p.script.text}</code></pre></section>`
}
${p.also.length > 0 && html`<p>See also: ${p.also.map((section, i) => html`${i > 0 && ', '}${link(section)}`)}.</p>`}
<nav class="pager" aria-label="Sections of the guide">${
    p.before && html`<a href="${hrefOf(p.before)}" rel="prev">‹ ${p.before.title}</a>`
  }${p.after && html`<a href="${hrefOf(p.after)}" rel="next">${p.after.title} ›</a>`}</nav></div>`;
};
