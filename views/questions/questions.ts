import type { QuestionShown } from '../../server/questions/schemas.ts';
import { type Html, html } from '../html.ts';
import { type Show, when } from '../kit/show.ts';

interface QuestionsProps {
  questions: readonly QuestionShown[];
  mayOwn: boolean;
  mayWork: boolean;
  /** Where the answer leads back to. */
  back: string;
  show: Show;
}

const aboutWhat = (q: QuestionShown): Html =>
  html`${q.lotId !== null && html`<a href="/lots/${q.lotId}">Lot ${q.lotNumber}</a>`}${
    q.lotId !== null && q.stockLotId !== null && ' · '
  }${q.stockLotId !== null && html`<a href="/stock/${q.stockLotId}">${q.stockLotCode}</a>`}`;

const answering = (q: QuestionShown, p: QuestionsProps): Html | '' => {
  if (q.answered)
    return html`<p class="fine">${q.answered.words} ${q.answered.by}, ${when(p.show, q.answered.at)}.</p>`;
  if (q.answers.length === 0)
    return q.lotId === null
      ? ''
      : html`<p><a class="button" href="/lots/${q.lotId}/bench">Answer it at the bench</a></p>`;
  if (q.asks === 'owner' ? !p.mayOwn : !p.mayWork) return html`<p class="fine">The owner answers this.</p>`;
  return html`<form method="post" action="/questions/${q.questionId}/answer" class="question-answers"><input
    type="hidden" name="back" value="${p.back}">${q.answers.map(
      (a) => html`<button name="answer" value="${a.answer}">${a.label}</button>`,
    )}</form>`;
};

/** What the record asks: open questions with their answers, then those that were answered. */
export const questionList = (p: QuestionsProps): Html | '' => {
  if (p.questions.length === 0) return '';
  const open = p.questions.filter((q) => q.answered === null).length;
  return html`<section class="panel questions" id="questions" aria-labelledby="questions-head"><h2
    id="questions-head">Questions${open > 0 && html` <span class="fine">${open}</span>`}</h2><ul>${p.questions.map(
      (q) =>
        html`<li class="${q.answered ? 'is-answered' : 'is-open'}" id="question-${q.questionId}">
        <p class="fine">${aboutWhat(q)} · asked ${when(p.show, q.askedAt)}</p><p>${q.words}</p>${answering(q, p)}</li>`,
    )}</ul></section>`;
};
