import { html } from '../html.ts';

export const doorMark = html`<svg class="door-mark" viewBox="0 0 64 64" aria-hidden="true"><path
  d="M8 6h36l12 12v40H8z" /><circle cx="43" cy="19" r="4" /></svg>`;

export const passphraseHint = 'Twelve characters or more. Four unrelated words are good.';
