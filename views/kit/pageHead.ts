import { type Html, html, type Value } from '../html.ts';

/** The head of a page: where one is, its name, and what can be done here. */
export const pageHead = (props: {
  title: Value;
  crumb?: { href: string; label: string };
  actions?: Value;
  lead?: Value;
}): Html =>
  html`<header class="page-head"><div>
  ${props.crumb && html`<p class="crumb"><a href="${props.crumb.href}">${props.crumb.label}</a></p>`}
  <h1>${props.title}</h1>${props.lead && html`<p class="lead">${props.lead}</p>`}</div>
  ${props.actions && html`<div class="actions">${props.actions}</div>`}</header>`;

/** What a list shows when there is nothing in it yet: why, and the next step. */
export const emptyState = (props: { title: string; words: Value; action?: { href: string; label: string } }): Html =>
  html`<div class="empty"><svg viewBox="0 0 120 60" aria-hidden="true"><path d="M12 8h30l8 8v36H12z"/><path
    d="M44 8h30l8 8v36H44z"/><path d="M76 8h24l8 8v36H76z"/><circle cx="40" cy="18" r="2.5"/><circle cx="72" cy="18"
    r="2.5"/><circle cx="98" cy="18" r="2.5"/></svg>
  <h2>${props.title}</h2><p>${props.words}</p>${
    props.action && html`<p><a class="button" href="${props.action.href}">${props.action.label}</a></p>`
  }</div>`;

/** Older / newer links of a keyset-paged list. */
export const pager = (props: { nextHref: string | null; firstHref: string | null }): Html | '' =>
  props.nextHref || props.firstHref
    ? html`<nav class="pager" aria-label="Pages">${
        props.firstHref && html`<a href="${props.firstHref}">Back to the start</a>`
      }${props.nextHref && html`<a href="${props.nextHref}">More</a>`}</nav>`
    : '';

/** One fact with its label, for definition lists. */
export const fact = (label: string, value: Value): Html =>
  html`<div class="fact"><dt>${label}</dt><dd>${value}</dd></div>`;

/** A state in words with a shape, never by colour alone. */
export const badge = (props: { label: string; tone: 'plain' | 'busy' | 'good' | 'warn' | 'bad' }): Html =>
  html`<span class="badge ${props.tone}">${props.label}</span>`;
