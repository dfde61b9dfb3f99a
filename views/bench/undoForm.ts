import { type Html, html } from '../html.ts';
import { type FormState, field } from '../kit/field.ts';
import { benchForm } from './benchForm.ts';
import type { BenchDrawn } from './props.ts';

export const stateOf = (p: Pick<BenchDrawn, 'refused'>, form: string, typed: Record<string, string> = {}): FormState =>
  p.refused?.form === form ? p.refused.state : { typed, errors: {} };

export const undoForm = (p: BenchDrawn, entryId: number, words: string, isChoice = false): Html =>
  html`<details class="void" data-key="void-${entryId}"><summary>Undo</summary>${benchForm(
    p,
    `log/${entryId}/voiding`,
    html`${field({
      name: 'reason',
      label: 'Why it is undone',
      form: stateOf(p, `void-${entryId}`),
      required: true,
      placeholder: isChoice ? 'chosen on a misreading' : 'misread, wrong line',
    })}<button>Undo it</button>`,
    { words: `Undo: ${words}` },
  )}</details>`;
