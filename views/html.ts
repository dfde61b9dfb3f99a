/** HTML as a tagged template: every text value is escaped; composition needs no marker, since safe markup is a class.
 *  The one door for trusted markup is `new Html(…)`. House rules: attribute values in double quotes; href and src are
 *  built from ids, never from what a user typed; no inline script or style. */
const NEEDS_ESCAPE = /["&'<>]/;
const ENTITY: Record<string, string> = { '"': '&quot;', '&': '&amp;', "'": '&#39;', '<': '&lt;', '>': '&gt;' };
declare const brand: unique symbol;

export class Html {
  declare private readonly [brand]: true;
  readonly value: string;
  constructor(value: string) {
    this.value = value;
  }
  toString(): string {
    return this.value;
  }
}

export type Value = Html | string | number | bigint | boolean | null | undefined | readonly Value[];

const escaped = (text: string): string =>
  NEEDS_ESCAPE.test(text) ? text.replace(/["&'<>]/g, (c) => ENTITY[c] ?? c) : text;

function render(value: Value): string {
  if (typeof value === 'string') return escaped(value);
  if (value instanceof Html) return value.value;
  if (value == null || typeof value === 'boolean') return '';
  if (typeof value === 'number' || typeof value === 'bigint') return String(value);
  if (Array.isArray(value)) {
    let out = '';
    for (const part of value as readonly Value[]) out += render(part);
    return out;
  }
  throw new TypeError('This value cannot be rendered into HTML.');
}

export function html(strings: TemplateStringsArray, ...values: Value[]): Html {
  let out = strings[0] ?? '';
  for (let i = 0; i < values.length; i++) out += render(values[i]) + (strings[i + 1] ?? '');
  return new Html(out);
}

/** Parts with a separator between them. */
export const join = (parts: readonly Value[], separator: Value): Html =>
  html`${parts.map((part, i) => (i === 0 ? part : html`${separator}${part}`))}`;
