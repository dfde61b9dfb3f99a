import { type Html, html } from '../html.ts';
import { colourDot } from '../kit/colourPatch.ts';
import { columnHeads } from '../kit/columnHeads.ts';
import { badge, pageHead } from '../kit/pageHead.ts';
import { type CardProps, picture, sides } from './picture.ts';

export const cardPage = (p: CardProps & { mayWork: boolean; mayLog: boolean }): Html => html`${pageHead({
  title: p.name,
  crumb: { href: '/reference-cards', label: 'Reference cards' },
  lead: html`${sides(p)}${p.archived && html` · ${badge({ label: 'put away', tone: 'plain' })}`}`,
  actions: html`${
    p.mayLog &&
    !p.archived &&
    html`<a class="button primary" href="/photo-readings/new?card=studio-${p.cardId}">Read a photo with it</a>`
  }${
    p.mayWork &&
    html`<form method="post" action="/reference-cards/${p.cardId}/${
      p.archived ? 'restoring' : 'archiving'
    }"><button>${p.archived ? 'Take it out again' : 'Put it away'}</button></form>`
  }`,
})}
<section class="panel">${picture(p)}${p.note && html`<p>${p.note}</p>`}${
  p.adaptation && html`<p class="fine">${p.adaptation}</p>`
}</section>
<section class="panel"><h2>Patches</h2><div class="table-wrap"><table class="plain"><thead><tr>${columnHeads([
  'Patch',
  'Place',
  'As measured',
])}</tr></thead><tbody>${p.patches.map(
  (patch, i) =>
    html`<tr><td><span class="chip-row">${colourDot(patch.hex)}${patch.name}</span></td><td>row ${
      Math.floor(i / p.columns) + 1
    }, ${(i % p.columns) + 1}</td><td>${patch.text}</td></tr>`,
)}</tbody></table></div></section>`;
