import { type Html, html } from '../html.ts';
import { emptyState, pageHead } from '../kit/pageHead.ts';
import { length, mass, money, percent, type Show } from '../kit/show.ts';

export interface FibreItem {
  id: number;
  name: string;
  class: string;
  kind: string;
  construction: string;
  arealMassMgPerM2: number | null;
  widthMm: number | null;
  countText: string;
  putUpMassMg: number | null;
  regainPpm: number | null;
  costMinorPerKg: number | null;
}

const build = (f: FibreItem, show: Show): string =>
  [
    f.construction,
    f.arealMassMgPerM2 === null ? '' : `${f.arealMassMgPerM2 / 1000} g/m²`,
    f.widthMm === null ? '' : `${length(show, f.widthMm)} wide`,
    f.countText,
    f.putUpMassMg === null ? '' : `${mass(show, f.putUpMassMg)} put-up`,
  ]
    .filter(Boolean)
    .join(' · ');

/** All the goods that the studio dyes. */
export const fibresPage = (props: { fibres: readonly FibreItem[]; show: Show }): Html => html`${pageHead({
  title: 'Fibres',
  lead: 'The cloth and yarn that you dye. Mass per area, put-up and regain let a plan find the dry mass.',
  actions: html`<a class="button primary" href="/fibres/new">Add a fibre</a>`,
})}
${
  props.fibres.length === 0
    ? emptyState({
        title: 'No goods yet',
        words: 'Start with the cloth or yarn you dye most. Its class decides which dyes suit it.',
        action: { href: '/fibres/new', label: 'Add a fibre' },
      })
    : html`<div class="panel table-wrap"><table class="plain"><thead><tr><th>Goods</th><th>Class</th><th>Build</th>
      <th class="num">Regain</th><th class="num">Cost per kg</th></tr></thead><tbody>${props.fibres.map(
        (f) =>
          html`<tr><td><a href="/fibres/${f.id}"><b>${f.name}</b></a><br><span
            class="fine">${f.kind}</span></td><td>${f.class}</td><td>${build(f, props.show)}</td>
            <td class="num">${percent(f.regainPpm)}</td><td class="num">${money(
              props.show,
              f.costMinorPerKg,
            )}</td></tr>`,
      )}</tbody></table></div>`
}`;
