import { sodaAshBulkDensitiesKgPerM3 } from '../../server/calc/bath.ts';
import { nearlyOutPpm, supply } from '../../server/calc/shelf.ts';
import { type Html, html } from '../html.ts';
import {
  type ContainerItem,
  containerTable,
  jar,
  keepingBadge,
  quantity,
  shelfValueMinor,
  supplyBadge,
} from '../kit/containers.ts';
import { choice, type FormState, field, fieldError, formNotice, textArea } from '../kit/field.ts';
import { badge, emptyState, fact, pageHead } from '../kit/pageHead.ts';
import { safety } from '../kit/safety.ts';
import { grams, millilitres, money, percent, type Show, volume } from '../kit/show.ts';

export interface AuxiliaryItem {
  id: number;
  code: string;
  name: string;
  form: 'solid' | 'liquid';
  hydrate: string;
  grade: string;
  bulkDensityGPerL: number | null;
  solutionConcPpm: number | null;
  onHandQuantity: number;
  receivedQuantity: number;
  solutionUl: number;
  openContainers: number;
  recalledContainers: number;
  bestBeforeOn: string | null;
}

const unitOf = (a: AuxiliaryItem): 'mg' | 'ul' => (a.form === 'liquid' ? 'ul' : 'mg');
const make = (a: AuxiliaryItem): string =>
  [a.form, a.hydrate, a.grade && `grade: ${a.grade}`].filter(Boolean).join(' · ');

const watch = (a: AuxiliaryItem, todayOn: string): Html =>
  html`<span class="badges">${a.recalledContainers > 0 && badge({ label: 'a container is recalled', tone: 'bad' })}${
    a.openContainers === 0 ? badge({ label: 'none on the shelf', tone: 'plain' }) : supplyBadge(a)
  }${keepingBadge({ bestBeforeOn: a.bestBeforeOn, todayOn, isSolution: false })}</span>`;

/** Soda, salt, acid, urea, detergent: whatever goes into the pot beside dye. */
export const auxiliariesPage = (props: {
  auxiliaries: readonly AuxiliaryItem[];
  archived: readonly { id: number; code: string; name: string }[];
  mayWork: boolean;
  show: Show;
  todayOn: string;
}): Html => html`${pageHead({
  title: 'Auxiliaries',
  lead: 'Soda, salt, acid, urea, detergent: whatever goes into the pot beside dye.',
  actions:
    props.mayWork &&
    html`<a class="button" href="/stock/new">Receive a container</a><a class="button primary" href="/auxiliaries/new">Add an auxiliary</a>`,
})}
${
  props.auxiliaries.length === 0
    ? emptyState({
        title: 'No auxiliaries yet',
        words: 'Methods call for them by name. Form, hydrate and grade decide what a gram and a cup of it are.',
        ...(props.mayWork ? { action: { href: '/auxiliaries/new', label: 'Add an auxiliary' } } : {}),
      })
    : html`<div class="panel"><table class="plain shelf"><caption class="visually-hidden">Auxiliaries with what is on hand</caption>
<thead><tr><th scope="col">Auxiliary</th><th scope="col">Kept in solution</th><th scope="col" class="num">On hand</th><th scope="col">Watch</th></tr></thead><tbody>${props.auxiliaries.map(
        (a) => {
          const { leftPpm } = supply({ ...a, nearlyOutPpm });
          return html`<tr><th scope="row"><span class="shelf-name">${jar({ hex: null, leftPpm, label: `${percent(leftPpm, 0)} left` })}<span><a href="/auxiliaries/${a.id}"><b>${a.name}</b></a><br><span class="fine"><b>${a.code}</b> · ${make(a)}</span></span></span></th>
  <td data-label="Kept in solution">${a.solutionConcPpm === null ? '—' : percent(a.solutionConcPpm)}</td>
  <td class="num" data-label="On hand"><b>${quantity(props.show, unitOf(a), a.onHandQuantity)}</b>${a.solutionUl > 0 && html`<br><span class="fine">+ ${volume(props.show, a.solutionUl)} solution</span>`}</td>
  <td>${watch(a, props.todayOn)}</td></tr>`;
        },
      )}</tbody></table></div>`
}
${
  props.archived.length > 0 &&
  html`<details class="fold"><summary>Put away (${props.archived.length})</summary><ul class="shelf-list">${props.archived.map(
    (a) => html`<li><a href="/auxiliaries/${a.id}">${a.name}</a> <span class="fine">${a.code}</span></li>`,
  )}</ul></details>`
}`;

/** What a scoop weighs, or why it cannot be said. */
export interface ScoopAnswer {
  volumeUl: number;
  massMg: number;
}

export const scoopAnswer = (props: { answer: ScoopAnswer | null; form: FormState; show: Show }): Html =>
  html`<div id="scoop-answer" class="scoop-answer" aria-live="polite">${fieldError('scoop', props.form)}${props.answer && html`<p><span class="big-number">${grams(props.answer.massMg, 100)}</span> <span class="fine">in ${millilitres(props.answer.volumeUl, 1000)}, loosely filled and levelled</span></p>`}</div>`;

const cups = (props: {
  auxiliary: AuxiliaryItem;
  cupMassMg: number | null;
  form: FormState;
  answer: ScoopAnswer | null;
  show: Show;
}): Html => {
  const { auxiliary: a } = props;
  if (a.form === 'liquid')
    return html`<section class="panel"><h2>Cups and spoons</h2><p>A liquid is measured by volume: 1 US cup = 236.6 mL.</p></section>`;
  if (props.cupMassMg === null || a.bulkDensityGPerL === null)
    return html`<section class="panel"><h2>Cups and spoons</h2><p><b>A cup of it has no mass yet.</b> The grade’s bulk density is not noted, and grades differ: a cup of light soda ash holds about 135–154 g, of dense about 237–248 g. Note grade and bulk density, or weigh it.</p><p><a class="button" href="/auxiliaries/${a.id}/edit">Note the bulk density</a></p></section>`;
  return html`<section class="panel"><h2>Cups and spoons</h2><p><b>1 US cup = ${grams(props.cupMassMg, 100)}</b> <span class="fine">of the ${a.grade} grade at ${a.bulkDensityGPerL} g/L</span></p>
<form method="get" action="/auxiliaries/${a.id}" class="scoop" hx-get="/auxiliaries/${a.id}" hx-trigger="input delay:250ms, submit" hx-target="#scoop-answer" hx-swap="outerHTML"><div class="field"><label for="f-scoop">A scoop of</label><div class="scoop-row"><input id="f-scoop" name="scoop" value="${props.form.typed['scoop'] ?? ''}" placeholder="1½ cups" ${props.form.errors['scoop'] && html`aria-invalid="true"`} aria-describedby="scoop-answer"><button>weighs</button></div></div></form>
${scoopAnswer({ answer: props.answer, form: props.form, show: props.show })}</section>`;
};

/** One auxiliary: what it is, what a cup of it weighs, what is on the shelf. */
export const auxiliaryPage = (props: {
  auxiliary: AuxiliaryItem & { hazardCodes: string; sdsUrl: string; note: string; archivedAt: number | null };
  cupMassMg: number | null;
  form: FormState;
  answer: ScoopAnswer | null;
  containers: readonly ContainerItem[];
  closedCount: number;
  methods: readonly { methodId: number; name: string; vessel: 'bath' | 'soak'; asTyped: string }[];
  mayWork: boolean;
  show: Show;
  todayOn: string;
}): Html => {
  const { auxiliary: a, show } = props;
  return html`${pageHead({
    title: a.name,
    crumb: { href: '/auxiliaries', label: 'Auxiliaries' },
    lead: html`${a.code} · ${make(a)}`,
    actions:
      props.mayWork &&
      html`<a class="button" href="/auxiliaries/${a.id}/edit">Edit</a><a class="button primary" href="/stock/new?item=auxiliary-${a.id}">Receive a container</a>`,
  })}
${a.archivedAt !== null && html`<p class="notice shelf-notice">This auxiliary is put away: it is on no list. <b>Put it back</b> below to use it again.</p>`}
<div class="cols"><section class="panel shelf-facts"><h2 class="visually-hidden">Facts</h2><div class="shelf-hero">${jar({ hex: null, ...supply({ ...a, nearlyOutPpm }), label: 'Level on the shelf', size: 'large' })}
  <div><span class="big-number">${quantity(show, unitOf(a), a.onHandQuantity)}</span><br><span class="fine">on hand, as bought</span></div><div class="badges">${watch(a, props.todayOn)}</div></div>
  <dl class="facts">${fact('Form', a.form)}${fact('Hydrate', a.hydrate || 'not noted')}${fact('Grade', a.grade || 'not noted')}
  ${a.form === 'solid' && fact('Bulk density', a.bulkDensityGPerL === null ? 'not noted' : `${a.bulkDensityGPerL} g/L`)}
  ${fact('Kept in solution', a.solutionConcPpm === null ? 'no' : `${percent(a.solutionConcPpm)} w/v`)}
  ${fact('In solution now', a.solutionUl > 0 ? volume(show, a.solutionUl) : 'none')}
  ${fact('On the shelf, at the receipts’ prices', money(show, shelfValueMinor(props.containers)))}</dl>${a.note && html`<p class="note-text">${a.note}</p>`}</section>
<div>${cups({ auxiliary: a, cupMassMg: props.cupMassMg, form: props.form, answer: props.answer, show })}
${safety({ hazardCodes: a.hazardCodes, sdsUrl: a.sdsUrl, powder: a.form === 'solid' })}</div></div>
<section><h2>Containers</h2>${
    props.containers.length === 0
      ? emptyState({
          title: 'Nothing on the shelf',
          words: 'Receive a container with its price: the cost of a lot follows from it.',
          ...(props.mayWork
            ? { action: { href: `/stock/new?item=auxiliary-${a.id}`, label: 'Receive a container' } }
            : {}),
        })
      : containerTable({
          containers: props.containers,
          show,
          todayOn: props.todayOn,
          caption: `Containers of ${a.name}`,
        })
  }
${props.closedCount > 0 && html`<p><a href="/stock?item=auxiliary-${a.id}&amp;closed=yes">${props.closedCount} closed ${props.closedCount === 1 ? 'container' : 'containers'}</a></p>`}</section>
<section class="panel"><h2>Methods that call for it</h2>${
    props.methods.length === 0
      ? html`<p class="fine">None yet.</p>`
      : html`<ul class="shelf-list">${props.methods.map((m) => html`<li><a href="/methods/${m.methodId}">${m.name}</a> <span class="fine">${m.asTyped} ${m.vessel === 'soak' ? 'in the soak' : 'in the bath'}</span></li>`)}</ul>`
  }</section>
${props.mayWork && html`<form method="post" action="/auxiliaries/${a.id}/archiving"><input type="hidden" name="archived" value="${a.archivedAt === null ? 'yes' : 'no'}"><button class="quiet">${a.archivedAt === null ? 'Put this auxiliary away' : 'Put this auxiliary back'}</button></form>`}`;
};

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
    ${field({ name: 'hydrate', label: 'Hydrate', form, placeholder: 'anhydrous, decahydrate', hint: 'Washing soda holds nearly two thirds water: a recipe for one is not one for the other.' })}
    ${field({ name: 'grade', label: 'Grade', form, placeholder: 'light, dense, fine, coarse' })}
    ${field({ name: 'bulkDensity', label: 'Bulk density of that grade', form, unit: 'g/L', inputmode: 'decimal', size: 'short', hint: `Turns cups into grams. Fill a litre jug loosely, level it, weigh it. Soda ash: light ${light.low}–${light.high}, dense ${dense.low}–${dense.high} (a soda-ash institute’s general information).` })}
    ${field({ name: 'solutionConc', label: 'Kept in solution at', form, unit: '% w/v', inputmode: 'decimal', size: 'short', hint: 'Leave it empty when it goes in dry. Plans then say millilitres.' })}
  </div></fieldset>
  <fieldset class="panel"><legend>Safety</legend><div class="grid">
    ${field({ name: 'hazardCodes', label: 'Hazard codes', form, placeholder: 'H319', hint: 'As printed on the safety data sheet.' })}
    ${field({ name: 'sdsUrl', label: 'Address of the safety data sheet', form, inputmode: 'text', placeholder: 'https://', size: 'wide' })}
    ${textArea({ name: 'note', label: 'Note', form, rows: 3 })}
  </div></fieldset>
  <p><button class="primary">Save</button> <a class="button quiet" href="${at}">Cancel</a></p>
</form>`;
};
