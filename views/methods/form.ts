import { type Html, html } from '../html.ts';
import { dyeClassOptions } from '../kit/dyeClass.ts';
import {
  type FormState,
  field,
  fieldError,
  formNotice,
  type Option,
  selectField,
  type Typed,
  textArea,
} from '../kit/field.ts';
import { otherVersion } from '../kit/otherVersion.ts';
import { pageHead } from '../kit/pageHead.ts';
import { rowsOf } from '../kit/rows.ts';
import { kindWords } from './method.ts';

const basisOptions: readonly Option[] = [
  { value: 'owg', label: '% of goods (owg)' },
  { value: 'gPerL', label: 'g per litre' },
  { value: 'mlPerL', label: 'mL per litre' },
  { value: 'fixedMass', label: 'a fixed mass' },
  { value: 'fixedVolume', label: 'a fixed volume' },
];
const vesselOptions: readonly Option[] = [
  { value: 'bath', label: 'bath' },
  { value: 'soak', label: 'soak' },
];
const kindOptions: readonly Option[] = Object.entries(kindWords).map(([value, label]) => ({ value, label }));

const LABELS = {
  name: 'Name',
  dyeClass: 'Dye class',
  summary: 'In a sentence',
  bathRatio: 'Bath to goods',
  soakRatio: 'Soak to goods',
  loss: 'Loss allowance',
  cautions: 'Cautions',
  stepName: 'Step',
  duration: 'Time',
  temp: 'Temperature',
  handsOn: 'Hands on',
  stepNote: 'Note to the step',
  auxiliaryId: 'Auxiliary',
  vessel: 'Into',
  basis: 'Goes by',
  amount: 'Amount',
  label: 'Entry',
  kind: 'Kind of entry',
  unit: 'Unit',
  choices: 'Choices',
} as const;

const rowField = (form: FormState, name: keyof typeof LABELS, row: number, more: { placeholder?: string } = {}): Html =>
  field({ name: `${name}.${row}`, label: LABELS[name], form, ...more });

const stepRow = (form: FormState, row: number): Html =>
  html`<li class="row-card step-row">
      ${rowField(form, 'stepName', row, { placeholder: 'Soak' })}
      ${rowField(form, 'duration', row, { placeholder: '20 min' })}
      ${rowField(form, 'temp', row, { placeholder: '40 °C' })}
      ${rowField(form, 'handsOn', row, { placeholder: '5 min' })}
      ${rowField(form, 'stepNote', row, { placeholder: 'turn every ten minutes' })}</li>`;

const lineRow = (form: FormState, row: number, auxiliaries: readonly Option[]): Html =>
  html`<li class="row-card line-row">
      ${selectField({
        name: `auxiliaryId.${row}`,
        label: LABELS.auxiliaryId,
        form,
        options: auxiliaries,
        none: '—',
      })}
      ${rowField(form, 'amount', row, { placeholder: '50 g/L' })}
      ${selectField({ name: `basis.${row}`, label: LABELS.basis, form, options: basisOptions })}
      ${selectField({ name: `vessel.${row}`, label: LABELS.vessel, form, options: vesselOptions })}</li>`;

const entryRow = (form: FormState, row: number): Html =>
  html`<li class="row-card entry-row">
      ${rowField(form, 'label', row, { placeholder: 'Ice' })}
      ${selectField({ name: `kind.${row}`, label: LABELS.kind, form, options: kindOptions })}
      ${rowField(form, 'unit', row, { placeholder: 'kg' })}
      ${rowField(form, 'choices', row, { placeholder: 'over the ice, under the ice' })}</li>`;

interface MethodFormProps {
  form: FormState;
  methodId: number | null;
  name: string | null;
  auxiliaries: readonly { id: number; name: string; grade: string }[];
  /** The row as it stands now, for a form that was overtaken. */
  current: Typed | null;
}

/** New, copy, edit and refused are this one form. */
export const methodForm = (props: MethodFormProps): Html => {
  const { form } = props;
  const auxiliaryOptions = props.auxiliaries.map((a) => ({
    value: String(a.id),
    label: a.grade === '' ? a.name : `${a.name}, ${a.grade}`,
  }));
  return html`${pageHead({
    title: props.name ?? 'Write a method',
    crumb:
      props.methodId === null
        ? { href: '/methods', label: 'Methods' }
        : { href: `/methods/${props.methodId}`, label: 'The method' },
  })}
${props.current && otherVersion({ typed: form.typed, current: props.current, labels: LABELS })}
<form method="post" action="${props.methodId === null ? '/methods' : `/methods/${props.methodId}`}"
  class="stack">${formNotice(form)}
  <input type="hidden" name="version" value="${props.current?.['version'] ?? form.typed['version'] ?? ''}">
  <fieldset class="panel"><legend>The method</legend><div class="grid">
    ${field({ name: 'name', label: LABELS.name, form, required: true, autofocus: props.methodId === null })}
    ${selectField({ name: 'dyeClass', label: LABELS.dyeClass, form, options: dyeClassOptions, none: 'any class' })}
    ${field({
      name: 'summary',
      label: LABELS.summary,
      form,
      size: 'wide',
      placeholder: 'soak in soda, dye in the tub, batch overnight',
    })}
    ${field({
      name: 'bathRatio',
      label: LABELS.bathRatio,
      form,
      placeholder: '20:1',
      size: 'short',
      hint: 'Litres of bath for each kilogram; 20:1 and 1:20 are read alike.',
    })}
    ${field({
      name: 'soakRatio',
      label: LABELS.soakRatio,
      form,
      placeholder: '8:1',
      size: 'short',
      hint: 'Only where the goods soak in a vessel of its own.',
    })}
    ${field({
      name: 'loss',
      label: LABELS.loss,
      form,
      unit: '%',
      inputmode: 'decimal',
      size: 'short',
      hint: 'Dye that drips or rinses away before it meets the cloth.',
    })}
  </div></fieldset>
  <fieldset class="panel"><legend>Steps</legend>
    <p class="hint">Times as you say them: 20 min, 1 h 30, overnight is 12 h. A row left empty is left out.</p>
    <ol class="rows" id="steps" data-rows>${rowsOf(form.typed, 'stepName', 1).map((row) =>
      stepRow(form, row),
    )}</ol><button type="button" data-add-row="steps">Another step</button></fieldset>
  <fieldset class="panel"><legend>What goes in</legend>
    <p class="hint">Each line by its own measure: 2 % of goods, 50 g/L, 1 oz/gal, 30 g. “1 cup/gal” is turned into
      grams when the auxiliary’s page has a bulk density for its grade.</p>
    ${fieldError('auxiliaries', form)}
    <ol class="rows" id="lines" data-rows>${rowsOf(form.typed, 'auxiliaryId', 1).map((row) =>
      lineRow(form, row, auxiliaryOptions),
    )}</ol><button type="button" data-add-row="lines">Another line</button></fieldset>
  <fieldset class="panel"><legend>What the bench asks for</legend>
    <p class="hint">What this method has that others have not: ice mass, powder over or under the ice, fold, dips.</p>
    <ol class="rows" id="entries" data-rows>${rowsOf(form.typed, 'label', 1).map((row) =>
      entryRow(form, row),
    )}</ol><button type="button" data-add-row="entries">Another entry</button></fieldset>
  <fieldset class="panel"><legend>Safety</legend>
    ${textArea({
      name: 'cautions',
      label: LABELS.cautions,
      form,
      rows: 4,
      hint:
        'One a line; each is shown on the plan and on the bench. ' +
        'The usual ones of the dye class come by themselves.',
    })}
  </fieldset>
  <p class="actions"><button class="primary big">Save the method</button></p>
</form>`;
};
