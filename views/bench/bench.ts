import { type Html, html } from '../html.ts';
import { ids } from '../ids.ts';
import { formNotice } from '../kit/field.ts';
import { cautionsList } from '../plans/weighUp.ts';
import { logPanel } from './log.ts';
import type { BenchProps } from './props.ts';
import { questionsPanel } from './questions.ts';
import { stepsPanel } from './steps.ts';
import { goodsNow } from './waysOut.ts';
import { carriedOf, weighPanel } from './weigh.ts';

/** Powder of a recalled container is in a cup of this lot. */
const recalledNotice = (p: BenchProps): Html | '' => {
  const codes = new Set(
    p.lines.flatMap((l) => l.weighings.filter((w) => w.recalled && w.state === 'counts').map((w) => w.container)),
  );
  return codes.size === 0
    ? ''
    : html`<p class="notice bad">Weighed from ${[...codes].join(
        ', ',
      )}, which has been recalled. Ask the owner before you go on.</p>`;
};

/** The bench: the one page for wet hands. The page is this fragment in a bare frame. */
const cautionsFold = (p: BenchProps): Html =>
  html`<details><summary>Cautions</summary>${cautionsList(p.cautions)}</details>`;

export const bench = (
  p: BenchProps,
): Html => html`<div id="${ids.bench}" class="bench" data-lot="${p.lotId}" data-number="${p.number}"
  data-order="${p.order}" data-person="${p.person.personId}" data-person-name="${p.person.name}"
  data-zone="${p.show.zone}" data-now="${p.nowAt}" data-newest="${p.newest}"
  data-scale="${JSON.stringify(carriedOf(p))}">
  <header class="bench-bar"><h1 class="visually-hidden">Bench, lot ${p.number}</h1><a class="button quiet"
    href="/lots/${p.lotId}">‹ Lot ${p.number}</a><p><b>${p.goodsText}</b>, <span
    class="goods-now">${goodsNow(p.show, p.dryMassMg, p.plannedDryMassMg)}</span></p><a class="button"
    href="/lots/${p.lotId}/outcome">Finish</a></header>
  ${p.cancelled && html`<div class="notice bad" role="status"><p>${p.cancelled}</p></div>`}
  ${
    p.refused &&
    formNotice({
      typed: {},
      errors: { '': Object.values(p.refused.state.errors)[0] ?? 'That was not recorded.' },
    })
  }
  ${questionsPanel(p)}
  ${recalledNotice(p)}
  <div class="bench-grid"><div>${weighPanel(p)}</div><div>${stepsPanel(p)}${logPanel(p)}${cautionsFold(p)}</div></div>
</div>`;
