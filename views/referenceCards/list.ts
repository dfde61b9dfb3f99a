import { type Html, html } from '../html.ts';
import { badge, emptyState, pageHead } from '../kit/pageHead.ts';
import { type CardProps, picture, sides } from './picture.ts';

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
            html`<li><div class="panel">${picture(card)}<h2><a
              href="/reference-cards/${card.cardId}">${card.name}</a></h2><p>${sides(card)}${
                card.archived && html` · ${badge({ label: 'put away', tone: 'plain' })}`
              }</p></div></li>`,
        )}</ul>`
  }`;
