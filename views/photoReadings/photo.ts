import { type Html, html } from '../html.ts';
import { pageHead } from '../kit/pageHead.ts';
import { PHOTO_RESULT, type PhotoResultProps, photoResult } from './result.ts';

export interface PhotoPageProps {
  photoId: number;
  widthPx: number;
  heightPx: number;
  resultHref: string;
  cornerNames: readonly string[];
  plainCard: boolean;
  cardSides: { columns: number; rows: number };
  cards: readonly { card: string; name: string; chosen: boolean; href: string }[];
  cardName: string;
  subject: { name: string; href: string } | null;
  againHref: string;
  result: PhotoResultProps | null;
  mayAddCards: boolean;
}

const MODES = [
  { value: 'spot', label: 'Spots' },
  { value: 'area', label: 'Area' },
  { value: 'corners', label: 'Corners' },
];

/** A photo, and what is pointed at in it. Everything works by finger and by keyboard; what is pointed at is sent to the
 *  server, which reads it. */
export const photoPage = (p: PhotoPageProps): Html => html`${pageHead({
  title: 'Colour from a photo',
  crumb: p.subject
    ? { href: p.subject.href, label: p.subject.name }
    : { href: '/swatches/near', label: 'Near a colour' },
  actions: html`<a class="button" href="${p.againHref}">Another photo</a>`,
})}
<div class="reading-cols" data-photo-reading data-result="${p.resultHref}" data-corner-names="${p.cornerNames.join(
  '|',
)}" data-columns="${p.cardSides.columns}" data-rows="${p.cardSides.rows}" data-plain="${p.plainCard ? 'yes' : 'no'}">
<div class="shot-side"><div class="shot" data-shot data-mode="${
  p.plainCard ? 'corners' : 'spot'
}"><img src="/photos/${p.photoId}/1600" alt="The photo that is read" width="${p.widthPx}" height="${p.heightPx}"
  draggable="false" data-photo><svg viewBox="0 0 ${p.widthPx} ${p.heightPx}" aria-hidden="true"
  data-overlay></svg></div>
  <div class="shot-bar"><fieldset class="field choice"><legend>In the photo</legend><div class="segments">${MODES.map(
    (m) =>
      html`<label><input type="radio" name="mode" value="${m.value}" ${
        (p.plainCard ? 'corners' : 'spot') === m.value && html`checked`
      }><span>${m.label}</span></label>`,
  )}</div></fieldset>
  <button type="button" class="quiet" data-add-spot>Add a spot</button><button type="button" class="quiet"
    data-clear>Clear</button></div>
  <div class="field shot-bands" data-bands hidden><label for="bands">Goods of</label><select id="bands"
    name="bands"><option value="none">one colour</option><option value="auto">several colours, as they show</option>${[
      3, 4, 5, 6,
    ].map((n) => html`<option value="${n}">${n} colours</option>`)}</select></div>
  <p class="shot-say" role="status" data-say></p></div>
${
  p.result
    ? photoResult(p.result)
    : html`<div id="${PHOTO_RESULT}" data-outcome="waiting"><noscript><p>Pointing at the goods needs a script. <a
      href="${p.resultHref}">Read the card</a></p></noscript><p class="panel">Reading the photo…</p></div>`
}
</div>
<details class="shot-card"><summary>Card: ${p.cardName}</summary><ul>${p.cards.map(
  (c) => html`<li><a href="${c.href}" ${c.chosen && html`aria-current="true"`}>${c.name}</a></li>`,
)}</ul>${p.mayAddCards && html`<p><a href="/reference-cards/new">Add a card of the studio’s own</a></p>`}</details>`;
