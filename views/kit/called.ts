import { type Html, html } from '../html.ts';

/** Beside a name that a thing had then: what it is called now, where that is another. */
export const nowCalled = (name: string, now: string | null | undefined): Html | false =>
  Boolean(now) && now !== name && html` <span class="fine">now called ${now}</span>`;

/** The name that a thing had then, and what it is called now beside it. */
export const called = (name: string, now: string | null | undefined): Html => html`${name}${nowCalled(name, now)}`;
