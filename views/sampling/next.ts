import { type Html, html } from '../html.ts';
import { colourChip } from '../kit/colourChip.ts';
import { choice, type FormState, type Option, selectField } from '../kit/field.ts';
import { emptyState, pageHead } from '../kit/pageHead.ts';
import { percent } from '../kit/show.ts';
import { type KnownView, predictedChip, sentence } from '../matching/predicted.ts';

export interface NextPageProps {
  form: FormState;
  fibres: readonly Option[];
  methods: readonly Option[];
  hues: readonly Option[];
  fibreId: number | null;
  methodId: number | null;
  answer:
    | { known: false; message: string }
    | {
        known: true;
        among: string;
        samples: readonly {
          components: readonly { code: string; name: string; shownHex: string | null; depthPpm: number }[];
          predicted: KnownView;
          formula: string;
          /** Of the expected squared error, once this and those before it are dyed. */
          gonePct: number;
        }[];
        undyedUnread: boolean;
        /** Said while the model has not caught up with the library; '' when it has. */
        learning: string;
        unknown: readonly { dyeId: number; code: string; name: string }[];
      }
    | null;
  mayWork: boolean;
}

const answerPart = (p: NextPageProps): Html => {
  const { answer } = p;
  if (answer === null) return html``;
  const goods = `fibreId=${p.fibreId ?? ''}&methodId=${p.methodId ?? ''}`;
  if (!answer.known)
    return html`<div class="notice"><p>${answer.message} Begin with a depth ladder of each dye.</p><p><a
      class="button primary" href="/sampling/new?${goods}">Plan a ladder</a></p></div>`;
  return html`${answer.learning && html`<p class="notice" role="status">${answer.learning}</p>`}${
    answer.undyedUnread &&
    html`<section class="panel"><h2>First: the goods before dyeing</h2><p>Nobody has read them, so an ordinary scoured
      white is assumed, and pale colours are off by as much as the goods differ from it. One reading of an undyed
      piece teaches more than any swatch.</p><p><a class="button" href="/colour/knowledge?${goods}">Read the undyed
      goods</a></p></section>`
  }${
    answer.unknown.length > 0 &&
    html`<section class="panel"><h2>First: dyes without a ladder</h2><p>No two swatches on these goods by this method
      hold them, so nothing can be predicted with them. Two or three depths of each are enough to begin.</p>
      <ul class="plain-list">${answer.unknown.map(
        (d) =>
          html`<li class="list-row"><span class="grow">${d.code} ${d.name}</span>${
            p.mayWork &&
            html`<a class="button" href="/sampling/new?${goods}&kind=depthLadder&dyeId.0=${d.dyeId}">Plan a ladder<span
            class="visually-hidden"> of ${d.code}</span></a>`
          }</li>`,
      )}</ul></section>`
  }
  ${
    answer.samples.length === 0
      ? emptyState({
          title: 'Nothing among these hues',
          words: 'No blend of the dyes that are known is predicted to come out there. Ask for any hue.',
        })
      : html`<h2>The recipes that would teach most</h2><p class="fine">${answer.among} Chosen as a set: each lowers
        most what is still not known of the recipes that you are likely to ask for, once those before it are dyed.
        Begin at the top; after some are dyed and read, the list is another.</p>
  ${
    p.mayWork &&
    html`<form method="post" action="/sampling/next"><input type="hidden" name="fibreId"
      value="${p.fibreId ?? ''}"><input type="hidden" name="methodId" value="${p.methodId ?? ''}">${answer.samples.map(
        (s, i) => html`<input type="hidden" name="formula.${i}" value="${s.formula}">`,
      )}<p><button class="primary" name="take" value="all">Plan these ${
        answer.samples.length
      } as one set</button></p></form>`
  }
  <ol class="proposals">${answer.samples.map(
    (s) =>
      html`<li class="proposal panel">${predictedChip(
        s.predicted,
      )}<h3><span class="predicted-word">predicted</span> ${s.predicted.name}, ± ${s.predicted.deltaE90.toFixed(
        1,
      )} ΔE</h3><ul class="plain-list">${s.components.map(
        (c) =>
          html`<li class="chip-row">${colourChip({
            hex: c.shownHex,
            label: c.name,
          })}<span><b>${c.code}</b> ${percent(c.depthPpm)}</span></li>`,
      )}</ul><p class="fine">${sentence(s.predicted.familiarInWords)}; ${
        s.predicted.sureInWords
      }. Dyed with those before it, it takes ${s.gonePct} % off the squared error to expect.</p></li>`,
  )}</ol>`
  }`;
};

/** What to sample next, so that the predictions gain most. */
export const nextPage = (p: NextPageProps): Html =>
  html`${pageHead({
    title: 'What to sample next',
    crumb: { href: '/sampling', label: 'Sampling' },
    lead: 'Where a dyed piece would teach the predictions most.',
  })}
<section class="panel"><form action="/sampling/next" method="get" class="stack"><div class="grid">
${selectField({ name: 'fibreId', label: 'On', form: p.form, options: p.fibres, required: true })}
${selectField({ name: 'methodId', label: 'By', form: p.form, options: p.methods, required: true })}
${selectField({ name: 'hue', label: 'Hues', form: p.form, options: p.hues })}
${choice({
  name: 'maxDyes',
  label: 'Of at most',
  form: p.form,
  options: ['1', '2', '3'].map((v) => ({ value: v, label: v === '1' ? '1 dye' : v })),
})}</div><p><button>Show</button></p></form></section>
${answerPart(p)}`;
