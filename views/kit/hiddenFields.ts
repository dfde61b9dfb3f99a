import { type Html, html } from '../html.ts';

/** What a form hands on without showing it. */
export const hiddenFields = (fields: readonly (readonly [name: string, value: string])[]): Html[] =>
  fields.map(([name, value]) => html`<input type="hidden" name="${name}" value="${value}">`);
