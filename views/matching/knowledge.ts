import { ONE_CLOTH } from '../../server/calc/match/sureness.ts';
import { type Html, html } from '../html.ts';
import { columnHeads } from '../kit/columnHeads.ts';
import { illuminantOptions, observerOptions } from '../kit/conditions.ts';
import { choice, type FormState, field, formNotice, type Option, selectField } from '../kit/field.ts';
import { emptyState, pageHead } from '../kit/pageHead.ts';
import { percent } from '../kit/show.ts';

export interface KnowledgePageProps {
  goods: readonly {
    fibreId: number;
    fibreName: string;
    methodId: number;
    methodName: string;
    swatches: number;
    chosen: boolean;
  }[];
  chosen: {
    fibreName: string;
    methodName: string;
    answer:
      | { known: false; message: string }
      | {
          known: true;
          swatchCount: number;
          mixtureCount: number;
          spectrumCount: number;
          undyedGoods: 'read' | 'assumed';
          leftOut: readonly string[];
          /** Said while the model has not caught up with the library; '' when it has. */
          learning: string;
          conditionsText: string;
          calibratedOn: { alone: number; together: number; apart: number };
          dyes: readonly {
            dyeId: number;
            code: string;
            name: string;
            alone: number;
            mixed: number;
            minDepthPpm: number;
            maxDepthPpm: number;
            enough: boolean;
          }[];
          doubtful: readonly { swatchId: number; code: string; name: string; deltaE2000: number }[];
        };
  } | null;
  undyed: FormState;
  fibres: readonly Option[];
  mayWork: boolean;
}

const chosenPart = (c: NonNullable<KnowledgePageProps['chosen']>): Html => {
  const { answer } = c;
  if (!answer.known) return html`<div class="notice"><p>${answer.message}</p></div>`;
  return html`<section class="panel"><h2>${c.fibreName}, ${c.methodName}</h2>
  ${answer.learning && html`<p class="notice" role="status">${answer.learning}</p>`}
  <p>Learned from ${answer.swatchCount} swatches, ${answer.mixtureCount} of them of several dyes${
    answer.spectrumCount > 0 && html`, ${answer.spectrumCount} with a curve`
  }, under ${answer.conditionsText}. ${
    answer.undyedGoods === 'read'
      ? 'The goods before dyeing were read.'
      : 'Nobody read the goods before dyeing: an ordinary scoured white is assumed.'
  } ${answer.leftOut.join(' ')}</p>
  <p class="fine">The stated ± stands on swatches that were held out while learning: ${
    answer.calibratedOn.alone
  } of one dye, ${answer.calibratedOn.together} of dyes dyed together before, ${
    answer.calibratedOn.apart
  } of sets never dyed. Under 20 of a kind, a wide guess fills in. ${ONE_CLOTH} Where a dye is paler than its palest
    swatch, or deeper than its deepest, the ± is wider. ${
      answer.spectrumCount > 0
        ? 'Under another lamp the colour is reckoned from the curves.'
        : 'None of them has a curve: what another lamp does to a colour is an estimate, with a ± of its own.'
    }</p>
  <div class="table-wrap" tabindex="0" role="region" aria-label="What is known of each dye">
    <table class="plain"><thead><tr>${columnHeads([
      'Dye',
      { num: 'Alone' },
      { num: 'In mixtures' },
      { num: 'Depths' },
      'Predicted',
    ])}</tr></thead><tbody>${answer.dyes.map(
      (d) =>
        html`<tr><th scope="row"><a href="/dyes/${d.dyeId}">${d.code} ${d.name}</a></th>
        <td class="num">${d.alone}</td><td class="num">${d.mixed}</td>
        <td class="num">${percent(d.minDepthPpm, 2)} to ${percent(d.maxDepthPpm, 2)}</td><td>${
          d.enough ? html`up to ${percent(d.maxDepthPpm * 1.5, 1)}` : 'no idea yet: one swatch'
        }</td></tr>`,
    )}</tbody></table></div>
  ${
    answer.doubtful.length > 0 &&
    html`<h3>Swatches that the others contradict</h3><p>A slip of weighing, typing or reading, or something the model
      does not know. Worth a look.</p><ul>${answer.doubtful.map(
        (d) =>
          html`<li><a href="/swatches/${d.swatchId}">${d.code} ${d.name}</a>: ΔE ${d.deltaE2000.toFixed(
            1,
          )} from what the others lead to expect</li>`,
      )}</ul>`
  }</section>`;
};

/** What the studio's swatches teach, and of how many. */
export const knowledgePage = (p: KnowledgePageProps): Html =>
  html`${pageHead({
    title: 'What the swatches teach',
    crumb: { href: '/swatches', label: 'Swatch library' },
    lead: 'Predictions rest on your own swatches alone, each goods and method by itself.',
    actions: html`<a class="button" href="/colour/map">Library map</a><a class="button" href="/sampling">Sampling</a>`,
  })}
${
  p.goods.length === 0
    ? emptyState({
        title: 'No swatch was read yet',
        words: 'Predictions begin with a few depths of each dye on one cloth, dyed by one method and read.',
        action: { href: '/sampling/new', label: 'Plan samples' },
      })
    : html`<nav class="goods-list" aria-label="Goods and methods"><ul>${p.goods.map(
        (g) =>
          html`<li><a href="/colour/knowledge?fibreId=${g.fibreId}&methodId=${g.methodId}" ${
            g.chosen && html`aria-current="page"`
          }><b>${g.fibreName}</b> ${g.methodName} <span class="fine">${g.swatches} read</span></a></li>`,
      )}</ul></nav>${p.chosen && chosenPart(p.chosen)}`
}
${
  p.mayWork &&
  html`<section class="panel"><h2>The goods before dyeing</h2><p>A reading of undyed, scoured goods makes pale
    predictions better.</p>
<form method="post" action="/colour/undyed" class="stack">${formNotice(p.undyed)}<div class="grid">${selectField({
    name: 'fibreId',
    label: 'Goods',
    form: p.undyed,
    options: p.fibres,
    required: true,
    none: 'choose',
  })}
${field({
  name: 'colour',
  label: 'Colour',
  form: p.undyed,
  placeholder: '92.4 0.3 4.1',
  required: true,
  autocomplete: 'off',
})}
${choice({ name: 'illuminant', label: 'Light', form: p.undyed, options: illuminantOptions })}
${choice({
  name: 'observer',
  label: 'Observer',
  form: p.undyed,
  options: observerOptions,
})}</div><p><button>Keep it</button></p></form></section>`
}`;
