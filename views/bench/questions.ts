import { type Html, html } from '../html.ts';
import { benchForm } from './benchForm.ts';
import { keptMark } from './keptMark.ts';
import type { BenchDrawn } from './props.ts';

type Question = BenchDrawn['questions'][number];

const taps = (q: Question, p: BenchDrawn): Html =>
  html`<div class="taps">${
    q.asks === 'choice' &&
    q.line?.isOver &&
    html`<a class="button" href="/lots/${p.lotId}/bench?line=${
      q.line.componentId
    }&order=${p.order}#now" data-ask-line="${q.line.componentId}">Choose again for ${q.line.name}</a>`
  }
  ${benchForm(
    p,
    `questions/${q.questionId}/answer`,
    html`${
      q.asks === 'undo' &&
      html`<input type="hidden" name="reason" value="the reading that it was chosen for is void"><button
        class="primary" name="answer" value="undone">Undo the choice</button>`
    }<button name="answer" value="left">${q.asks === 'undo' ? 'Keep the choice' : 'Leave it as it is'}</button>`,
    {
      className: 'ask-form',
      words: q.asks === 'undo' ? 'The choice whose reading is void' : 'The choice that was not applied',
    },
  )}</div>`;

/** What the record cannot settle by itself, above everything else: each with what to do, in one tap. */
export const questionsPanel = (p: BenchDrawn): Html | '' =>
  p.questions.length > 0
    ? html`<section class="bench-asks" aria-label="Questions">${p.questions.map(
        (q) => html`<div class="notice warn bench-ask" data-key="question-${q.questionId}"><p>${q.words}</p>
  ${q.answered ? html`<p>Answered, ${keptMark()}</p>` : taps(q, p)}</div>`,
      )}</section>`
    : '';
