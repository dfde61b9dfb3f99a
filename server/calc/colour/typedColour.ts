import { CalcError } from '../calcError.ts';
import { type Conditions, D65_2, type Lab } from './reading.ts';
import { hexFromSrgb, labFromSrgb, srgbFromHex } from './spaces.ts';

export interface TypedColour {
  lab: Lab;
  conditions: Conditions;
  /** The colour code in its one form, when that was what was typed. */
  hex: string | null;
}

const number = /^[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)$/;

/** Typed colour → CIELAB. Either a colour code of sRGB, "#3a6b88", which is taken as D65/2° whatever `conditions` say; or
 *  three numbers L* a* b* under `conditions`: "52.1 -8 -14", "L 52,1; a -8; b -14", "52.1, -8, -14". Spaces or semicolons
 *  leave the comma to the decimals. Throws CalcError('unreadable' or 'outOfRange', field). */
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
  const plain = text
    .replace(/\b(?:cie)?lab\b[(:=]?/i, ' ')
    .replace(/\)$/, '')
    .replace(/\b[Lab]\*?\s*[:=]?\s*(?=[-+.,\d])/gi, ' ')
    .trim();
  const parts = /[;\s]/.test(plain) ? plain.split(/\s*;\s*|,?\s+/) : plain.split(',');
  if (parts.length !== 3 || !parts.every((part) => number.test(part))) {
    throw new CalcError('unreadable', field, 'type L* a* b* as three numbers, 52.1 -8 -14, or a colour code, #3a6b88');
  }
  const [L = 0, a = 0, b = 0] = parts.map((part) => Number(part.replace(',', '.')));
  if (L < 0 || L > 110) throw new CalcError('outOfRange', field, 'L* lies between 0 (black) and 100 (white)');
  if (Math.abs(a) > 200 || Math.abs(b) > 200) {
    throw new CalcError('outOfRange', field, 'a* and b* lie between −200 and 200');
  }
  return { lab: { L, a, b }, conditions, hex: null };
}
