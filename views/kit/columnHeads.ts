import { type Html, html } from '../html.ts';

/** The heads of a table's columns; a column of figures as `{ num: … }`. */
export const columnHeads = (heads: readonly (string | { num: string })[]): Html[] =>
  heads.map((head) =>
    typeof head === 'string' ? html`<th scope="col">${head}</th>` : html`<th scope="col" class="num">${head.num}</th>`,
  );
