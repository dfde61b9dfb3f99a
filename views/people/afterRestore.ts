import { type Html, html } from '../html.ts';
import { type FormState, field, formNotice, selectField } from '../kit/field.ts';
import { emptyState, pageHead } from '../kit/pageHead.ts';
import { type Show, when } from '../kit/show.ts';
import { doorMark, passphraseHint } from './door.ts';
import { ROLE_NAMES, type Role } from './roles.ts';

/** The only way into a studio that came out of an archive: the code of the terminal. */
export const restoredDoor = (p: {
  form: FormState;
  studioName: string;
  owners: readonly { id: number; name: string }[];
  archiveMadeAt: number | null;
  show: Show;
}): Html => html`<section class="door">
  ${doorMark}<h1>${p.studioName}</h1><p class="lead">Restored from the backup of ${when(p.show, p.archiveMadeAt)}.</p>
  <p>Every passphrase, sign-in, link, code and token of that time has ended. An owner comes in first, with the code
    from the server’s terminal, and lets the others in again.</p>
  <form method="post" action="/after-restore" class="stack">${formNotice(p.form)}
    ${field({
      name: 'code',
      label: 'Code from the terminal',
      form: p.form,
      required: true,
      inputmode: 'numeric',
      autocomplete: 'one-time-code',
      autofocus: true,
      hint: 'Six digits, which the server prints when it starts.',
    })}
    ${selectField({
      name: 'ownerId',
      label: 'You are',
      form: p.form,
      required: true,
      options: p.owners.map(({ id, name }) => ({ value: String(id), label: name })),
    })}
    ${field({
      name: 'passphrase',
      label: 'New passphrase',
      form: p.form,
      type: 'password',
      required: true,
      autocomplete: 'new-password',
      hint: passphraseHint,
    })}
    <button class="primary big">Open the studio</button>
  </form></section>`;

interface StandingItem {
  name: string;
  personId: number | null;
  archiveRole: Role | null;
  archiveActive: number | null;
  replacedRole: Role | null;
  replacedActive: number | null;
  role: Role | null;
  active: number | null;
}

const standing = (role: Role | null, active: number | null, unknown: string): string =>
  role === null ? unknown : `${ROLE_NAMES[role]}${active === 1 ? '' : ', left'}`;

const hadLeft = (s: StandingItem): boolean => s.replacedActive === 0 && s.active === 1;

/** What is to be done about one of them, in the order in which it matters. */
const wayOn = (s: StandingItem): Html =>
  s.personId === null
    ? html`<a href="/people#invite">Invite again</a>`
    : hadLeft(s)
      ? html`<form method="post" action="/people/${s.personId}/standing"><input type="hidden" name="active"
        value="no"><button>${s.name} has left</button></form>`
      : html`<a href="/people/${s.personId}">Change<span class="visually-hidden"> the standing of ${s.name}</span></a>`;

const standingTable = (standings: readonly StandingItem[]): Html =>
  html`<table class="plain shelf"><thead><tr><th scope="col">Name</th><th scope="col">In the backup</th>
    <th scope="col">In the studio that was replaced</th><th scope="col">Now</th><th scope="col"><span
    class="visually-hidden">What to do</span></th></tr></thead><tbody>${standings.map(
      (s) =>
        html`<tr><th scope="row">${
          s.personId === null ? s.name : html`<a href="/people/${s.personId}">${s.name}</a>`
        }</th><td data-label="In the backup">${standing(
          s.archiveRole,
          s.archiveActive,
          'not there yet',
        )}</td><td data-label="Before">${standing(
          s.replacedRole,
          s.replacedActive,
          'not known',
        )}</td><td data-label="Now">${standing(s.role, s.active, 'not here')}</td><td>${wayOn(s)}</td></tr>`,
    )}</tbody></table>`;

/** What an owner sees first in a restored studio: whose standing differs, and who is shut out. */
export const afterRestorePage = (p: {
  restore: {
    restoredAt: number;
    archive: string;
    archiveMadeAt: number;
    keptIn: string | null;
    compared: number;
    settledAt: number | null;
  } | null;
  standings: readonly StandingItem[];
  shutOut: readonly { id: number; name: string; role: Role }[];
  show: Show;
}): Html => {
  const { restore: r, show } = p;
  const crumb = { href: '/people', label: 'People' };
  if (r === null) {
    return html`${pageHead({ title: 'After a restore', crumb })}
${emptyState({
  title: 'This studio was not restored from a backup',
  words: 'After a restore, this page shows whose standing is not what it was, and who has to be let in again.',
})}`;
  }
  return html`${pageHead({
    title: 'After a restore',
    crumb,
    lead: html`Restored on ${when(show, r.restoredAt)} from the backup of ${when(show, r.archiveMadeAt)}.`,
  })}
<section class="panel"><h2>Whose standing differs</h2>
${
  r.compared === 0
    ? html`<p class="notice warn"><b>There was no other studio to compare with${
        r.keptIn !== null && ', or it could not be read'
      }.</b> Go through <a href="/people">everybody</a>: whoever has left, or got another role, since ${when(
        show,
        r.archiveMadeAt,
      )} has the standing of that time again.</p>`
    : p.standings.length === 0
      ? html`<p>Nobody’s: everybody has the role that they had in the studio that was replaced.</p>`
      : html`<p>The backup counts now. Whoever left, or got another role, after it was made has the standing of that
        time again.</p>${standingTable(p.standings)}`
}
${
  r.settledAt === null
    ? html`<form method="post" action="/people/after-restore/settlement" class="apart"><button
      class="primary">Everybody’s standing is right</button></form>`
    : html`<p class="fine">Settled ${when(show, r.settledAt)}.</p>`
}</section>
<section class="panel"><h2>To be let in again</h2>
${
  p.shutOut.length === 0
    ? html`<p>Everybody who may come in has a way in.</p>`
    : html`<p>Every passphrase, sign-in, link, code and token of the backup has ended. Open a person to make a
      passphrase link, or a bench device to make a code. Scripts need new tokens.</p>
      <ul class="rows">${p.shutOut.map(
        (x) => html`<li class="list-row"><span class="grow"><a
      href="/people/${x.id}">${x.name}</a></span><span class="fine">${ROLE_NAMES[x.role]}</span></li>`,
      )}</ul>`
}</section>
<section class="panel"><h2>Where it came from</h2><p>From <code>${r.archive}</code>.${
    r.keptIn !== null && html` The studio that was replaced is kept in <code>${r.keptIn}</code>, with everything in it.`
  }</p></section>`;
};
