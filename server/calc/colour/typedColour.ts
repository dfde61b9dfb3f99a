import { CalcError } from '../calcError.ts';
import { type Conditions, D65_2, type Lab } from './reading.ts';
import { hexFromSrgb, labFromLch, labFromSrgb, srgbFromHex } from './spaces.ts';

export interface TypedColour {
  lab: Lab;
  conditions: Conditions;
  /** The colour code in its one form, when that was what was typed. */
  hex: string | null;
}

const number = /^[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)$/;

/** Three numbers without their letters and brackets, or undefined. */
function threeNumbers(text: string, letters: 'Lab' | 'LCh'): [number, number, number] | undefined {
  const plain = text
    .replace(letters === 'Lab' ? /\b(?:cie)?lab\b[(:=]?/i : /\b(?:cie)?lch\b[(:=]?/i, ' ')
    .replace(/[)°\s]+$/, '')
    .replace(new RegExp(`\\b[${letters}](?:ab)?\\*?\\s*[:=]?\\s*(?=[-+.,\\d])`, 'gi'), ' ')
    .trim();
  const parts = /[;\s]/.test(plain) ? plain.split(/\s*;\s*|,?\s+/) : plain.split(',');
  if (parts.length !== 3 || !parts.every((part) => number.test(part))) return undefined;
  return parts.map((part) => Number(part.replace(',', '.'))) as [number, number, number];
}

/** Said with the letters of LCh: "LCh 52 16 240", "L 52 C 16 h 240". */
const saysLch = (text: string): boolean =>
  /\b(?:cie)?lch\b/i.test(text) || (/\bc\*?\s*[:=]?\s*[.,\d]/i.test(text) && /\bh\*?\s*[:=]?\s*[-+.,\d]/i.test(text));

/** Typed colour → CIELAB. A colour code of sRGB, "#3a6b88", which is taken as D65/2° whatever `conditions` say; or three
 *  numbers L* a* b* under `conditions`: "52.1 -8 -14", "L 52,1; a -8; b -14", "52.1, -8, -14"; or L* C* h° by their letters:
 *  "LCh 52.1 16.1 240". Spaces or semicolons leave the comma to the decimals. Throws CalcError('unreadable' or 'outOfRange',
 *  field). A rule of our own. */
export function typedColour(input: { text: string; conditions: Conditions; field: string }): TypedColour {
  const { conditions, field } = input;
  const text = input.text.trim().replace(/[−–]/g, '-');
  if (text.startsWith('#')) {
    if (!/^#([0-9a-f]{3}|[0-9a-f]{6})$/i.test(text)) {
      throw new CalcError('unreadable', field, 'a colour code has three or six digits 0–9, a–f, such as #3a6b88');
    }
    const srgb = srgbFromHex(text);
    return { lab: labFromSrgb({ srgb, conditions: D65_2 }), conditions: D65_2, hex: hexFromSrgb(srgb) };
  }
  const lch = saysLch(text);
  const three = threeNumbers(text, lch ? 'LCh' : 'Lab');
  if (three === undefined) {
    throw new CalcError(
      'unreadable',
      field,
      'type L* a* b* as three numbers, 52.1 -8 -14, or a colour code, #3a6b88, or LCh 52.1 16.1 240',
    );
  }
  const [L, second, third] = three;
  if (L < 0 || L > 110) throw new CalcError('outOfRange', field, 'L* lies between 0 (black) and 100 (white)');
  if (lch) {
    if (second < 0 || second > 200) throw new CalcError('outOfRange', field, 'C* lies between 0 (grey) and 200');
    if (Math.abs(third) > 360) throw new CalcError('outOfRange', field, 'h lies between 0 and 360°');
    return { lab: labFromLch({ L, C: second, hueDeg: third }), conditions, hex: null };
  }
  if (Math.abs(second) > 200 || Math.abs(third) > 200) {
    throw new CalcError('outOfRange', field, 'a* and b* lie between −200 and 200');
  }
  return { lab: { L, a: second, b: third }, conditions, hex: null };
}
