import { type Html, html } from '../html.ts';
import { field, fieldError } from '../kit/field.ts';
import { clockBeside } from '../kit/show.ts';
import { entryWords } from '../lots/entryWords.ts';
import { benchForm } from './benchForm.ts';
import { placementAtBench } from './placement.ts';
import type { BenchProps } from './props.ts';
import { stateOf, undoForm } from './undoForm.ts';
import { voiceFields } from './voices.ts';

/** Changes that no line of the plan names: one tap. */
const CHANGES = [
  'Folded another way',
  'Placed another way',
  'More water',
  'Less water',
  'Order changed',
  'Stirred less',
];

/** “Instead of … I did …”: two taps, and words only where somebody wants them. */
const deviationForm = (p: BenchProps): Html => {
  const form = stateOf(p, 'deviation');
  const groups: readonly { of: string; label: string }[] = [
    { of: 'time', label: 'Time' },
    { of: 'temp', label: 'Temperature' },
    { of: 'line', label: 'Auxiliary' },
    { of: 'placement', label: 'Placement' },
  ];
  return benchForm(
    p,
    'log',
    html`<input type="hidden" name="kind" value="deviation">
    <fieldset class="instead"><legend>Instead of …</legend>${groups.map((g) => {
      const own = p.deviations.instead.filter((c) => c.of === g.of);
      return (
        own.length > 0 &&
        html`<div class="tap-choices"><span class="fine tap-group">${g.label}</span>${own.map(
          (c) =>
            html`<label class="tap-choice"><input type="radio" name="instead" value="${c.value}" data-of="${c.of}"
              required ${form.typed['instead'] === c.value && html`checked`}><span>${c.name}${
                c.planned &&
                html`
              <small>${c.planned}</small>`
              }</span></label>`,
        )}</div>`
      );
    })}${fieldError('instead', form)}</fieldset>
    <fieldset class="did"><legend>… I did</legend><p class="fine did-hint">Tap above what it was instead of.</p>
      <div class="taps">${p.deviations.did.map(
        (d) => html`<button name="did" value="${d.value}"
      class="${d.of.map((of) => `did-${of}`).join(' ')}">${d.words}</button>`,
      )}</div>
    <div class="field did-words"><label for="did-words">In words, if you like</label><input id="did-words" name="text"
      value="${form.typed['text'] ?? ''}" ${
        form.errors['text'] &&
        html`aria-invalid="true"
      aria-describedby="f-text-error"`
      }>${fieldError('text', form)}${fieldError('did', form)}</div></fieldset>`,
    { className: 'deviation-form' },
  );
};

export const logPanel = (
  p: BenchProps,
): Html => html`<section class="bench-log" aria-label="What happens"><h2>What really happens</h2>
  <h3>Otherwise than planned</h3>
  ${deviationForm(p)}
  ${benchForm(
    p,
    'log',
    html`<input type="hidden" name="kind" value="deviation"><div class="taps" role="group"
    aria-label="Other changes, one tap">${CHANGES.map(
      (d) => html`<button name="text"
    value="${d}">${d}</button>`,
    )}</div>`,
  )}
  <h3>How it lies</h3>${placementAtBench({ ...p.placement, href: `/lots/${p.lotId}/placement`, show: p.show })}
  <div class="cols"><div>
  ${benchForm(
    p,
    'log',
    html`<div class="field"><label for="note-text">Note</label><textarea id="note-text" name="text" rows="2"
      required>${stateOf(p, 'log').typed['text'] ?? ''}</textarea>${fieldError('text', stateOf(p, 'log'))}</div>
    <div class="taps"><button name="kind" value="note">Keep the note</button><button name="kind" value="deviation">It
      is a change of plan</button></div>`,
    { className: 'stack' },
  )}</div><div class="stack">
  ${benchForm(
    p,
    'log',
    html`<input type="hidden" name="kind" value="temperature">${field({
      name: 'temp',
      label: 'Temperature',
      form: stateOf(p, 'temperature'),
      inputmode: 'decimal',
      unit: p.show.units === 'us' ? '°F' : '°C',
      size: 'short',
      required: true,
    })}<button>Keep <span class="visually-hidden">the temperature</span></button>`,
    { className: 'inline' },
  )}
  ${benchForm(
    p,
    'photos',
    html`<div class="field"><label for="photo">Photo</label><input id="photo" type="file" name="photo" accept="image/*"
      capture="environment" required>${fieldError('photo', stateOf(p, 'photo'))}</div>${field({
        name: 'text',
        label: 'Caption',
        form: stateOf(p, 'photo'),
      })}<button>Keep the photo</button>`,
    { multipart: true, className: 'stack' },
  )}
  ${benchForm(p, 'voices', voiceFields(stateOf(p, 'voice')), {
    multipart: true,
    className: 'stack voice-form',
    words: 'Voice note',
  })}
  </div></div>
  ${
    p.fields.length > 0 &&
    html`<h3>This method asks for</h3><div class="grid">${p.fields.map((f, i) =>
      benchForm(
        p,
        'log',
        html`<input type="hidden" name="kind" value="field"><input type="hidden" name="label" value="${f.label}">${
          f.choices.length > 0
            ? html`<fieldset><legend>${f.label}${
                f.recorded !== null && html` <span class="fine">kept: ${f.recorded}</span>`
              }</legend><div class="taps">${f.choices.map(
                (c) => html`<button name="text" value="${c}">${c}</button>`,
              )}</div></fieldset>`
            : html`<div class="inline"><div class="field"><label for="method-field-${i}">${f.label}${
                f.recorded !== null && html` <span class="fine">kept: ${f.recorded}</span>`
              }</label><span class="with-unit"><input id="method-field-${i}" name="text" ${
                f.kind === 'text' ? '' : html`inputmode="decimal"`
              }>${
                f.unit && html`<span class="unit">${f.unit}</span>`
              }</span></div><button>Keep <span class="visually-hidden">${f.label}</span></button></div>`
        }`,
      ),
    )}</div>`
  }
  <h3>Log</h3>${logList(p)}</section>`;

/** The log, newest first on the bench. Voided entries stay, struck out, with the reason. */
const logList = (p: BenchProps): Html =>
  html`<ol class="log">${[...p.log].reverse().map(
    (e) =>
      html`<li class="${e.voidedReason !== null ? 'voided' : ''}" id="entry-${e.entryId}"><span
          class="log-at">${clockBeside(p.show, e.at, p.nowAt)}</span><span class="log-what">${entryWords(e)}${
            e.photo &&
            html`<br><img src="${e.photo}" alt="Photo at ${clockBeside(p.show, e.at, p.nowAt)}" loading="lazy">`
          }</span><span class="fine">${e.person}</span>${e.voidable && undoForm(p, e.entryId, e.words, e.undo)}</li>`,
  )}</ol>`;
