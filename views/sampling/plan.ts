import type { SamplingKind } from '../../server/sampling/schemas.ts';
import { type Html, html, type Value } from '../html.ts';
import { colourChip } from '../kit/colourChip.ts';
import { columnHeads } from '../kit/columnHeads.ts';
import { illuminantOptions, observerOptions } from '../kit/conditions.ts';
import { choice, type FormState, field, formNotice, type Option, selectField } from '../kit/field.ts';
import { badge, fact, pageHead } from '../kit/pageHead.ts';
import { grams, mass, millilitres, percent, type Show, when } from '../kit/show.ts';
import { KIND_WORDS } from './list.ts';

export interface PieceView {
  ordinal: number;
  name: string;
  depthPpm: number;
  sharesPpm: readonly number[];
  stockMl: readonly number[];
  waterMl: number | null;
  hex: string | null;
  colourName: string;
  readingText: string;
  plusMinus: number | null;
  swatchId: number | null;
  swatchCode: string | null;
}

export interface SamplingPlanProps {
  planId: number;
  name: string;
  kind: SamplingKind;
  fibreName: string;
  methodName: string;
  pieceMassMg: number;
  liquorMlPerKg: number | null;
  reservePpm: number;
  gridColumns: number;
  note: string;
  madeAt: number;
  madeByName: string;
  stocks: readonly {
    code: string;
    name: string;
    shownHex: string | null;
    concPpm: number;
    usedUl: number;
    makeUl: number;
    powderMg: number;
  }[];
  pieces: readonly PieceView[];
  form: FormState;
  photoForm: FormState;
  cards: readonly Option[];
  messages: readonly string[];
  mayWork: boolean;
  show: Show;
}

/** How the pieces lie on the sheet, numbered, in their colours once they were read. */
export const sheetGrid = (pieces: readonly PieceView[], columns: number): Html => {
  const rows = Math.ceil(pieces.length / columns);
  return html`<svg class="sheet-grid" viewBox="0 0 ${columns * 10} ${rows * 10}" role="img"
    aria-label="The sheet: ${pieces.length} pieces, ${columns} in a row, from piece 1 at the upper left">${pieces.map(
      (p, i) => {
        const x = (i % columns) * 10;
        const y = Math.floor(i / columns) * 10;
        return html`${
          p.hex
            ? html`<rect x="${x + 0.4}" y="${y + 0.4}" width="9.2" height="9.2" fill="${p.hex}"/>`
            : html`<rect class="sheet-empty" x="${x + 0.4}" y="${y + 0.4}" width="9.2" height="9.2"/>`
        }${
          !p.hex &&
          html`<text class="sheet-ordinal" x="${x + 5}" y="${y + 6.4}" text-anchor="middle">${p.ordinal}</text>`
        }`;
      },
    )}</svg>`;
};

export const ml = (v: number): string => (v === 0 ? '—' : v < 10 ? v.toFixed(2) : v.toFixed(1));

const cups = (p: SamplingPlanProps): Html =>
  html`<div class="table-wrap" tabindex="0" role="region" aria-label="Volumes for every cup">
    <table class="plain cup-table"><thead><tr><th scope="col">Piece</th><th scope="col"
      class="num">Depth</th>${p.stocks.map(
        (s) => html`<th scope="col" class="num">${s.code} ${percent(s.concPpm)}, mL</th>`,
      )}<th scope="col" class="num">Water, mL</th><th scope="col">Came out</th></tr></thead><tbody>${p.pieces.map(
        (c) =>
          html`<tr><th scope="row">${c.ordinal} <span class="fine">${c.name}</span></th><td class="num">${percent(
            c.depthPpm,
          )}</td>${c.stockMl.map(
            (v) => html`<td class="num">${ml(v)}</td>`,
          )}<td class="num">${c.waterMl === null ? '—' : ml(c.waterMl)}</td><td>${
            c.hex
              ? html`<span class="chip-row">${colourChip({
                  hex: c.hex,
                  label: c.colourName,
                })}<span class="fine">${c.readingText}${c.plusMinus !== null && ` ± ${c.plusMinus.toFixed(1)}`}${
                  c.swatchId !== null && html` · <a href="/swatches/${c.swatchId}">${c.swatchCode}</a>`
                }</span></span>`
              : ''
          }</td></tr>`,
      )}</tbody></table></div>`;

const results = (p: SamplingPlanProps): Value => {
  const read = p.pieces.filter((c) => c.hex !== null).length;
  const waiting = p.pieces.filter((c) => c.hex !== null && c.swatchId === null).length;
  const open = p.pieces.filter((c) => c.swatchId === null);
  return html`<section class="panel" id="results"><h2>What came out</h2>
  ${p.messages.map((m) => html`<p class="notice warn">${m}</p>`)}
  <p>${read} of ${p.pieces.length} read${
    p.pieces.length - open.length > 0 && `, ${p.pieces.length - open.length} in the library`
  }.</p>${sheetGrid(p.pieces, p.gridColumns)}
  ${
    p.mayWork &&
    waiting > 0 &&
    html`<form method="post" action="/sampling/${p.planId}/swatches" class="stack"><div class="grid">${field({
      name: 'cardPlace',
      label: 'Where the cards are kept',
      form: p.form,
      placeholder: 'Drawer 5',
    })}${field({
      name: 'dyedOn',
      label: 'Dyed on',
      form: p.form,
      type: 'date',
    })}</div><p><button class="primary">Keep ${waiting} as swatches</button></p></form>`
  }
  ${
    p.mayWork &&
    open.length > 0 &&
    html`<details ${
      read === 0 && html`open`
    }><summary>One photo of the whole sheet</summary><p>Lay the dry pieces as above, ${p.gridColumns} in a row, with a
      reference card beside them, all in the same even light.</p>
  <form method="post" action="/sampling/${p.planId}/photo" enctype="multipart/form-data" class="stack">${formNotice(
    p.photoForm,
  )}<div class="grid">${selectField({
    name: 'card',
    label: 'Card',
    form: p.photoForm,
    options: p.cards,
    required: true,
  })}
  <div class="field"><label for="f-photo">Photo</label><input id="f-photo" type="file" name="photo" accept="image/*"
    required>${
      p.photoForm.errors['photo'] && html`<p class="field-error">${p.photoForm.errors['photo']}</p>`
    }</div></div><p><button class="primary">Go on to the corners</button></p></form></details>
  <details ${
    Object.keys(p.form.errors).length > 0 && html`open`
  }><summary>Type or measure them</summary><form method="post" action="/sampling/${p.planId}/results"
    class="stack">${formNotice(p.form)}
  <div class="grid">${choice({
    name: 'source',
    label: 'Got by',
    form: p.form,
    options: [
      { value: 'instrument', label: 'an instrument' },
      { value: 'typed', label: 'typed from elsewhere' },
    ],
  })}${choice({ name: 'illuminant', label: 'Light', form: p.form, options: illuminantOptions })}${choice({
    name: 'observer',
    label: 'Observer',
    form: p.form,
    options: observerOptions,
  })}</div>
  <p class="hint">L* a* b* as three numbers, or a colour code. Empty ones are left as they are.</p>
    <div class="grid">${open.map((c) =>
      field({
        name: `colour.${c.ordinal}`,
        label: `${c.ordinal} ${c.name} at ${percent(c.depthPpm)}`,
        form: p.form,
        placeholder: '52.1 -8 -14',
      }),
    )}</div><p><button class="primary">Keep the results</button></p></form></details>`
  }</section>`;
};

/** A set: what to mix, and what came out. */
export const samplingPlanPage = (p: SamplingPlanProps): Html =>
  html`${pageHead({
    title: p.name,
    crumb: { href: '/sampling', label: 'Sampling' },
    lead: html`${KIND_WORDS[p.kind]}, ${p.pieces.length} pieces of ${mass(
      p.show,
      p.pieceMassMg,
    )} ${p.fibreName}, ${p.methodName}${
      p.pieces.every((c) => c.swatchId !== null) && html` ${badge({ label: 'all in the library', tone: 'good' })}`
    }`,
    actions: html`<a class="button" href="/sampling/${p.planId}/sheet">Bench page</a><a class="button"
      href="/sampling/${p.planId}/labels">Labels</a>`,
  })}
<div class="cols"><section class="panel"><h2>Stock solutions to make</h2><div class="table-wrap">
  <table class="plain"><thead><tr>${columnHeads([
    'Dye',
    { num: 'Strength' },
    { num: 'Make' },
    { num: 'Powder' },
  ])}</tr></thead><tbody>${p.stocks.map(
    (s) =>
      html`<tr><th scope="row"><span class="chip-row">${colourChip({
        hex: s.shownHex,
        label: s.name,
      })}<span>${s.code} ${s.name}</span></span></th><td class="num">${percent(
        s.concPpm,
      )} w/v</td><td class="num"><b>${millilitres(s.makeUl, 100)}</b><br><span class="fine">${millilitres(
        s.usedUl,
        100,
      )} used</span></td><td class="num"><b>${grams(s.powderMg, 10)}</b></td></tr>`,
  )}</tbody></table></div><p class="fine">${percent(
    p.reservePpm,
  )} more than is used. Powder of standard strength, made up to volume.</p></section>
<section class="panel"><h2>The set</h2><dl class="facts">${fact('One piece', mass(p.show, p.pieceMassMg))}${fact(
    'Liquor',
    p.liquorMlPerKg === null ? 'not told' : `${p.liquorMlPerKg / 1000} L/kg`,
  )}${fact('In a row', p.gridColumns)}${fact('Planned', `${when(p.show, p.madeAt)}, ${p.madeByName}`)}</dl>${
    p.note && html`<p>${p.note}</p>`
  }</section></div>
${results(p)}
<section class="panel"><h2>Every cup</h2>${cups(p)}</section>`;
