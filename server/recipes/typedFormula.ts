import { CalcError } from '../calc/calcError.ts';
import { sharesPpm } from '../calc/dyeMass.ts';
import { pctPpmOf, sharePartsOf } from '../calc/quantity.ts';
import { asRefusal, demandNone, type FieldErrors, invalid } from '../errors.ts';
import { bothStyles } from './revisions.ts';
import type { FormulaWords, RevisionInput } from './schemas.ts';

/** A typed formula as the API's input. The line of shares ("50/30/20", "2:1"), where filled, stands for the rows' own. */
export function revisionInputOf(form: FormulaWords): RevisionInput {
  const errors: FieldErrors = {};
  const { entryStyle, totalDepth, why } = form;
  const depthConfirmed = form.depthConfirmed === 'yes';
  const amountPpm = (text: string, i: number, missing: string): number => {
    const field = `components.${i}.amount`;
    if (text === '') {
      errors[field] = missing;
      return 0;
    }
    try {
      const ppm = pctPpmOf({ text, field });
      if (ppm === 0) errors[field] = 'A dye with nothing of it: leave it out.';
      return ppm;
    } catch (error) {
      if (!(error instanceof CalcError)) throw error;
      errors[field] = error.sentence;
      return 0;
    }
  };

  if (entryStyle === 'ownDepths') {
    const components = form.components.map(({ dyeId, amount }, i) => ({
      dyeId,
      depthPpm: amountPpm(amount, i, 'How deep is it on its own, % of goods?'),
    }));
    demandNone(errors);
    return { entryStyle, components, why, depthConfirmed };
  }

  if (totalDepth === null) errors['totalDepth'] = 'How deep are all dyes together, % of goods?';
  const parts =
    form.shares !== ''
      ? lineOfShares(form, errors)
      : form.components.map(({ amount }, i) =>
          amount === '' && form.components.length === 1
            ? 1_000_000
            : amountPpm(amount, i, 'What share of the total has it?'),
        );
  if (totalDepth === null) throw invalid(errors);
  demandNone(errors);
  const total = parts.reduce((sum, part) => sum + part, 0);
  // 33.3 % three times is meant as thirds: within 0.05 % a dye the shares are made exact, as sharePartsOf does.
  if (form.shares === '' && Math.abs(total - 1_000_000) > 500 * parts.length) {
    throw invalid({ components: `The shares add to ${Number((total / 10_000).toFixed(4))} %, not to 100 %.` });
  }
  const shares = sharesPpm({ parts });
  return {
    entryStyle,
    totalDepthPpm: totalDepth,
    components: form.components.map(({ dyeId }, i) => ({ dyeId, sharePpm: shares[i] ?? 0 })),
    why,
  };
}

function lineOfShares(form: FormulaWords, errors: FieldErrors): number[] {
  try {
    const parts = sharePartsOf({ text: form.shares, field: 'shares' });
    if (parts.length !== form.components.length) {
      errors['shares'] = `${count(parts.length, 'share')} for ${count(form.components.length, 'dye')}.`;
    } else if (parts.includes(0)) errors['shares'] = 'A dye with nothing of it: leave it out.';
    return parts;
  } catch (error) {
    if (!(error instanceof CalcError)) throw error;
    errors['shares'] = error.sentence;
    return [];
  }
}

type FormulaSoFar =
  | { kind: 'whole'; totalDepthPpm: number; components: { dyeId: number; sharePpm: number; depthPpm: number }[] }
  | { kind: 'notYet'; why: string };

/** What a formula says while it is being typed: both statements of it, or why not yet. */
export function formulaSoFar(form: FormulaWords): FormulaSoFar {
  try {
    return { kind: 'whole', ...bothStyles(revisionInputOf(form)) };
  } catch (error) {
    const refusal = asRefusal(error);
    if (!refusal) throw error;
    return { kind: 'notYet', why: Object.values(refusal.fields)[0] ?? refusal.message };
  }
}

const count = (n: number, noun: string): string => `${n} ${noun}${n === 1 ? '' : 's'}`;
