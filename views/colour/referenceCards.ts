import { type Html, html } from '../html.ts';
import { choice, type FormState, field, formNotice, textArea } from '../kit/field.ts';
import { badge, emptyState, pageHead } from '../kit/pageHead.ts';

export interface CardProps {
  cardId: number;
  name: string;
  columns: number;
  rows: number;
  note: string;
  archived: boolean;
  adaptation: string;
  patches: readonly { name: string; hex: string; text: string }[];
}

/** A card drawn as it lies: patches in rows on black. */
const picture = (card: CardProps): Html =>
  html`<svg class="card-picture" viewBox="0 0 ${card.columns * 10 + 1} ${card.rows * 10 + 1}" role="img" aria-label="The patches of ${card.name}">${card.patches.map(
    (patch, i) =>
      html`<rect x="${(i % card.columns) * 10 + 1}" y="${Math.floor(i / card.columns) * 10 + 1}" width="9" height="9" fill="${patch.hex}"/>`,
  )}</svg>`;

const sides = (card: CardProps): string =>
  card.columns * card.rows === 1 ? 'one patch' : `${card.columns} by ${card.rows} patches`;

export const cardsPage = (p: { cards: readonly CardProps[]; mayWork: boolean }): Html =>
  html`${pageHead({
    title: 'Reference cards',
    crumb: { href: '/swatches/near', label: 'Near a colour' },
    lead: 'Cards that the studio measured itself. The usual 24-patch charts and a plain grey card are known already.',
    ...(p.mayWork ? { actions: html`<a class="button primary" href="/reference-cards/new">Add a card</a>` } : {}),
  })}${
    p.cards.length === 0
      ? emptyState({
          title: 'No card of your own yet',
          words:
            'Any flat thing of even patches serves once each patch was measured: paint chips, felt, dyed cloth on board.',
          ...(p.mayWork ? { action: { href: '/reference-cards/new', label: 'Add a card' } } : {}),
        })
      : html`<ul class="card-list">${p.cards.map(
          (card) =>
            html`<li><div class="panel">${picture(card)}<h2><a href="/reference-cards/${card.cardId}">${card.name}</a></h2><p>${sides(card)}${card.archived && html` · ${badge({ label: 'put away', tone: 'plain' })}`}</p></div></li>`,
        )}</ul>`
  }`;

export const cardPage = (p: CardProps & { mayWork: boolean; mayLog: boolean }): Html => html`${pageHead({
  title: p.name,
  crumb: { href: '/reference-cards', label: 'Reference cards' },
  lead: html`${sides(p)}${p.archived && html` · ${badge({ label: 'put away', tone: 'plain' })}`}`,
  actions: html`${p.mayLog && !p.archived && html`<a class="button primary" href="/photo-readings/new?card=studio-${p.cardId}">Read a photo with it</a>`}${
    p.mayWork &&
    html`<form method="post" action="/reference-cards/${p.cardId}/${p.archived ? 'restoring' : 'archiving'}"><button>${p.archived ? 'Take it out again' : 'Put it away'}</button></form>`
  }`,
})}
<section class="panel">${picture(p)}${p.note && html`<p>${p.note}</p>`}${p.adaptation && html`<p class="fine">${p.adaptation}</p>`}</section>
<section class="panel"><h2>Patches</h2><div class="table-wrap"><table class="plain"><thead><tr><th scope="col">Patch</th><th scope="col">Place</th><th scope="col">As measured</th></tr></thead><tbody>${p.patches.map(
  (patch, i) =>
    html`<tr><td><span class="chip-row"><svg class="chip chip-small" viewBox="0 0 10 10" aria-hidden="true"><rect width="10" height="10" fill="${patch.hex}"/></svg>${patch.name}</span></td><td>row ${Math.floor(i / p.columns) + 1}, ${(i % p.columns) + 1}</td><td>${patch.text}</td></tr>`,
)}</tbody></table></div></section>`;

export const cardForm = (p: { form: FormState }): Html => html`${pageHead({
  title: 'New reference card',
  crumb: { href: '/reference-cards', label: 'Reference cards' },
  lead: 'Patches in equal steps, each measured by an instrument. A card is found by itself from eight patches on.',
})}
<form class="panel stack" method="post" action="/reference-cards">${formNotice(p.form)}
  <div class="grid">${field({ name: 'name', label: 'Name', form: p.form, required: true, placeholder: 'Studio card, May' })}
  ${field({ name: 'columns', label: 'Patches in a row', form: p.form, inputmode: 'numeric', size: 'short', required: true })}
  ${field({ name: 'rows', label: 'Rows', form: p.form, inputmode: 'numeric', size: 'short', required: true })}
  ${choice({
    name: 'illuminant',
    label: 'Light of the measurement',
    form: p.form,
    options: ['D65', 'D50', 'A'].map((v) => ({ value: v, label: v })),
    hint: 'Photos are read under D50, 2°. Others are adapted to it, an estimate.',
  })}
  ${choice({
    name: 'observer',
    label: 'Observer',
    form: p.form,
    options: [
      { value: '2', label: '2°' },
      { value: '10', label: '10°' },
    ],
  })}</div>
  ${textArea({
    name: 'patches',
    label: 'Patches',
    form: p.form,
    rows: 10,
    required: true,
    hint: 'One line for each patch, row by row from the upper left: L* a* b*, with a name before it if you like. “white 96.5 -0.4 1.2”',
  })}
  ${field({ name: 'note', label: 'Note', form: p.form, placeholder: 'measured 3 May, mean of three', size: 'wide' })}
  <p><button class="primary">Keep the card</button></p></form>`;
