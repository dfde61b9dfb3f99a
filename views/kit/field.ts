import { type Html, html, type Value } from '../html.ts';

/** What was typed into a form, by field name: kept as text so that a refused form shows it again. */
export type Typed = Readonly<Record<string, string>>;
export type FieldErrors = Readonly<Record<string, string>>;

/** A form's state: new (empty), edit (from a row) and refused (typed + errors) are the same shape. */
export interface FormState {
  typed: Typed;
  errors: FieldErrors;
}

export const emptyForm: FormState = { typed: {}, errors: {} };

export interface FieldProps {
  name: string;
  label: string;
  form: FormState;
  hint?: Value;
  unit?: string;
  type?: 'text' | 'password' | 'date' | 'email' | 'url' | 'search' | 'color' | 'number' | 'file';
  required?: boolean;
  autocomplete?: string;
  inputmode?: 'decimal' | 'numeric' | 'text';
  placeholder?: string;
  autofocus?: boolean;
  size?: 'short' | 'wide';
  list?: string;
}

const fieldId = (name: string): string => `f-${name.replaceAll('.', '-')}`;

/** Describes an input: hint and error ids for aria-describedby. */
const described = (props: { name: string; form: FormState; hint?: Value }): Html | '' => {
  const ids = [
    props.hint ? `${fieldId(props.name)}-hint` : '',
    props.form.errors[props.name] ? `${fieldId(props.name)}-error` : '',
  ].filter(Boolean);
  return ids.length > 0 ? html`aria-describedby="${ids.join(' ')}"` : '';
};

/** The message beside a field. */
export const fieldError = (name: string, form: FormState): Html | '' => {
  const words = form.errors[name];
  return words ? html`<p class="field-error" id="${fieldId(name)}-error">${words}</p>` : '';
};

const shell = (
  props: { name: string; label: string; form: FormState; hint?: Value; required?: boolean; size?: string },
  input: Value,
): Html =>
  html`<div class="field ${props.size ?? ''} ${props.form.errors[props.name] ? 'has-error' : ''}">
  <label for="${fieldId(props.name)}">${props.label}${
    !props.required ? '' : html`<span class="must" aria-hidden="true"> ·</span>`
  }</label>
  ${input}
  ${props.hint && html`<p class="hint" id="${fieldId(props.name)}-hint">${props.hint}</p>`}
  ${fieldError(props.name, props.form)}
</div>`;

/** One labelled text input with unit, hint and message. */
export function field(props: FieldProps): Html {
  const { name, form, type = 'text' } = props;
  const invalid = form.errors[name] ? html`aria-invalid="true"` : '';
  const value = type === 'password' || type === 'file' ? '' : html`value="${form.typed[name] ?? ''}"`;
  const input = html`<input id="${fieldId(name)}" name="${name}" type="${type}" ${value} ${invalid} ${described(props)}
    ${props.required && html`required`} ${props.autocomplete && html`autocomplete="${props.autocomplete}"`}
    ${props.inputmode && html`inputmode="${props.inputmode}"`} ${
      props.placeholder && html`placeholder="${props.placeholder}"`
    }
    ${props.list && html`list="${props.list}"`} ${props.autofocus && html`autofocus`}>`;
  return shell(
    props,
    props.unit ? html`<span class="with-unit">${input}<span class="unit">${props.unit}</span></span>` : input,
  );
}

export interface Option {
  value: string;
  label: string;
  group?: string;
}

/** Options of a select, with optional groups in the order in which they first appear. */
const options = (all: readonly Option[], chosen: string): Html => {
  const groups = new Map<string, Option[]>();
  for (const o of all) {
    const group = groups.get(o.group ?? '');
    if (group) group.push(o);
    else groups.set(o.group ?? '', [o]);
  }
  const one = (o: Option): Html =>
    html`<option value="${o.value}" ${o.value === chosen && html`selected`}>${o.label}</option>`;
  return html`${[...groups].map(([group, list]) =>
    group ? html`<optgroup label="${group}">${list.map(one)}</optgroup>` : list.map(one),
  )}`;
};

export interface SelectProps {
  name: string;
  label: string;
  form: FormState;
  options: readonly Option[];
  hint?: Value;
  required?: boolean;
  size?: 'short' | 'wide';
  /** Text of the empty choice; left out when one must choose. */
  none?: string;
}

export const selectField = (props: SelectProps): Html =>
  shell(
    props,
    html`<select id="${fieldId(props.name)}" name="${props.name}" ${
      props.form.errors[props.name] && html`aria-invalid="true"`
    } ${described(props)} ${props.required && html`required`}>
    ${props.none !== undefined && html`<option value="">${props.none}</option>`}${options(
      props.options,
      props.form.typed[props.name] ?? '',
    )}</select>`,
  );

export const textArea = (props: Omit<FieldProps, 'type' | 'unit'> & { rows?: number }): Html =>
  shell(
    { size: 'wide', ...props },
    html`<textarea id="${fieldId(props.name)}" name="${props.name}" rows="${props.rows ?? 3}" ${
      props.placeholder && html`placeholder="${props.placeholder}"`
    } ${props.required && html`required`} ${
      props.form.errors[props.name] && html`aria-invalid="true"`
    } ${described(props)}>${props.form.typed[props.name] ?? ''}</textarea>`,
  );

export const checkbox = (props: { name: string; label: Value; form: FormState; hint?: Value }): Html =>
  html`<div class="field check"><label><input type="checkbox" name="${props.name}" value="yes" ${
    props.form.typed[props.name] === 'yes' && html`checked`
  } ${described(props)}><span>${props.label}</span></label>
  ${props.hint && html`<p class="hint" id="${fieldId(props.name)}-hint">${props.hint}</p>`}${fieldError(
    props.name,
    props.form,
  )}</div>`;

/** A set of radio buttons as a segmented choice. */
export const choice = (props: {
  name: string;
  label: string;
  form: FormState;
  options: readonly Option[];
  hint?: Value;
}): Html =>
  html`<fieldset class="field choice ${
    props.form.errors[props.name] ? 'has-error' : ''
  }"><legend>${props.label}</legend>
  <div class="segments">${props.options.map(
    (o) =>
      html`<label><input type="radio" name="${props.name}" value="${o.value}" ${
        (props.form.typed[props.name] ?? '') === o.value && html`checked`
      }><span>${o.label}</span></label>`,
  )}</div>${props.hint && html`<p class="hint">${props.hint}</p>`}${fieldError(props.name, props.form)}</fieldset>`;

/** The message of the form as a whole, shown at its head when something was refused. */
export const formNotice = (form: FormState): Html | '' => {
  const count = Object.keys(form.errors).length;
  if (count === 0) return '';
  return html`<div class="notice bad" role="alert" tabindex="-1" data-focus><p>${
    form.errors[''] ?? 'Nothing was saved yet: see the marked fields. What you typed is still here.'
  }</p></div>`;
};
