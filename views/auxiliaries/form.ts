import { sodaAshBulkDensitiesKgPerM3 } from '../../server/calc/bath.ts';
import { type Html, html } from '../html.ts';
import { choice, type FormState, field, formNotice } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { safetyFields } from '../kit/safety.ts';

const { light, dense } = sodaAshBulkDensitiesKgPerM3;

/** New, edit and refused are this one form. */
export const auxiliaryForm = (props: { form: FormState; auxiliaryId: number | null; name: string | null }): Html => {
  const { form } = props;
  const at = props.auxiliaryId === null ? '/auxiliaries' : `/auxiliaries/${props.auxiliaryId}`;
  return html`${pageHead({
    title: props.name ?? 'New auxiliary',
    crumb:
      props.auxiliaryId === null
        ? { href: '/auxiliaries', label: 'Auxiliaries' }
        : { href: at, label: props.name ?? 'Auxiliary' },
  })}
<form method="post" action="${at}" class="stack">${formNotice(form)}
  <input type="hidden" name="version" value="${form.typed['version'] ?? ''}">
  <fieldset class="panel"><legend>What it is</legend><div class="grid">
    ${field({ name: 'name', label: 'Name', form, required: true, autofocus: props.auxiliaryId === null })}
    ${field({ name: 'code', label: 'Short code', form, required: true, size: 'short' })}
    ${choice({
      name: 'form',
      label: 'Form',
      form,
      options: [
        { value: 'solid', label: 'Solid, by mass' },
        { value: 'liquid', label: 'Liquid, by volume' },
      ],
      hint: 'Decides how its containers are counted; it stands once there is one.',
    })}
    ${field({
      name: 'hydrate',
      label: 'Hydrate',
      form,
      placeholder: 'anhydrous, decahydrate',
      hint: 'Washing soda holds nearly two thirds water: a recipe for one is not one for the other.',
    })}
    ${field({ name: 'grade', label: 'Grade', form, placeholder: 'light, dense, fine, coarse' })}
    ${field({
      name: 'bulkDensity',
      label: 'Bulk density of that grade',
      form,
      unit: 'g/L',
      inputmode: 'decimal',
      size: 'short',
      hint:
        'Turns cups into grams. Fill a litre jug loosely, level it, weigh it. Soda ash: ' +
        `light ${light.low}–${light.high}, dense ${dense.low}–${dense.high} ` +
        '(a soda-ash institute’s general information).',
    })}
    ${field({
      name: 'solutionConc',
      label: 'Kept in solution at',
      form,
      unit: '% w/v',
      inputmode: 'decimal',
      size: 'short',
      hint: 'Leave it empty when it goes in dry. Plans then say millilitres.',
    })}
  </div></fieldset>
  ${safetyFields(form, 'H319')}
  <p><button class="primary">Save</button> <a class="button quiet" href="${at}">Cancel</a></p>
</form>`;
};
