import { Html, html } from '../html.ts';
import { choice, type FormState, field, formNotice, type Option } from '../kit/field.ts';
import { badge, pageHead } from '../kit/pageHead.ts';
import { money, type Show, when } from '../kit/show.ts';
import { roleText } from './doors.ts';
import { type SignInItem, signInTable } from './signInTable.ts';

export interface PersonItem {
  id: number;
  name: string;
  role: 'owner' | 'dyer' | 'viewer' | 'bench';
  active: number;
  labourRateMinorPerHour: number | null;
  liveSignIns: number;
  lastSeenAt: number | null;
}

/** Shown once, right after it was made. */
export type Opened =
  | { kind: 'link'; words: string; hours: number; urls: readonly { url: string; qrSvg: string }[] }
  | { kind: 'code'; code: string; minutes: number; urls: readonly { url: string; qrSvg: string }[] };

const roleOptions: readonly Option[] = [
  { value: 'owner', label: 'Owner' },
  { value: 'dyer', label: 'Dyer' },
  { value: 'viewer', label: 'Viewer' },
];
export const ROLE_NAMES: Readonly<Record<PersonItem['role'], string>> = {
  owner: 'Owner',
  dyer: 'Dyer',
  viewer: 'Viewer',
  bench: 'Bench device',
};
const roleHint = html`Owner: everything. Dyer: plans, logs, changes library and stock. Viewer: looks.`;

const codes = (urls: readonly { url: string; qrSvg: string }[]): Html =>
  html`<div class="qr-row">${urls.map((u) => html`<figure><div class="qr">${new Html(u.qrSvg)}</div><figcaption><code class="token">${u.url}</code></figcaption></figure>`)}</div>`;

const openedNotice = (opened: Opened): Html =>
  opened.kind === 'link'
    ? html`<section class="panel notice good" role="status"><h2>Copy it now: it is shown this once</h2><p>${opened.words} It works once, within ${opened.hours} hours.</p>${codes(opened.urls)}</section>`
    : html`<section class="panel notice good" role="status"><h2>Type this on the device</h2><p class="big-number">${opened.code}</p><p>Open the address on it and type the code. It works once, within ${opened.minutes} minutes.</p>${codes(opened.urls)}</section>`;

const leftBadge = badge({ label: 'left', tone: 'plain' });

/** Everybody who may sign in, and the ways in that stand open. */
export const peoplePage = (p: {
  people: readonly PersonItem[];
  invitations: readonly {
    id: number;
    kind: string;
    role: string | null;
    personName: string | null;
    note: string;
    expiresAt: number;
  }[];
  invitation: FormState;
  bench: FormState;
  opened: Opened | null;
  show: Show;
}): Html => html`${pageHead({
  title: 'People',
  crumb: { href: '/settings', label: 'Settings' },
  lead: 'Who may come in, and what each may do. Nobody is erased: their name stays on what they did.',
  actions: html`<a class="button" href="/audit">Who did what</a>`,
})}
${p.opened && openedNotice(p.opened)}
<section class="panel"><h2>In the studio</h2><table class="plain shelf"><thead><tr><th scope="col">Name</th><th scope="col">Role</th><th scope="col" class="num">Labour rate</th><th scope="col" class="num">Signed in on</th><th scope="col">Last seen</th></tr></thead><tbody>${p.people.map(
  (x) =>
    html`<tr><th scope="row"><a href="/people/${x.id}">${x.name}</a> ${x.active !== 1 && leftBadge}</th><td data-label="Role">${ROLE_NAMES[x.role]}</td><td class="num" data-label="Labour rate">${x.role === 'bench' ? '—' : x.labourRateMinorPerHour === null ? html`<span class="fine">the studio’s</span>` : html`${money(p.show, x.labourRateMinorPerHour)}/h`}</td><td class="num" data-label="Signed in on">${x.liveSignIns}</td><td data-label="Last seen">${when(p.show, x.lastSeenAt)}</td></tr>`,
)}</tbody></table></section>
<section class="panel" id="invite"><h2>Invite somebody</h2>
  <p>You get a link that works once, for three days. The person chooses name and passphrase; you never see it.</p>
  <form method="post" action="/people/invitations" class="stack">${formNotice(p.invitation)}<div class="grid">
    ${choice({ name: 'role', label: 'They will be', form: p.invitation, options: roleOptions, hint: roleHint })}
    ${field({ name: 'labourRate', label: 'Labour rate', form: p.invitation, unit: `${p.show.currency}/h`, inputmode: 'decimal', size: 'short', hint: 'Empty: the studio’s rate.' })}
    ${field({ name: 'note', label: 'Whom is it for?', form: p.invitation, hint: 'So that you know which link is which.' })}
  </div><button class="primary">Make the link</button></form>
  ${
    p.invitations.length > 0 &&
    html`<h3 class="apart">Open links and codes</h3><ul class="rows">${p.invitations.map(
      (i) =>
        html`<li class="list-row"><span class="grow"><b>${i.kind === 'person' ? i.note || roleText(i.role ?? '') : i.personName}</b><br><span class="fine">${i.kind === 'person' ? `invitation, ${i.role}` : i.kind === 'bench' ? 'code of a bench device' : 'new passphrase'} · until ${when(p.show, i.expiresAt)}</span></span>
        <form method="post" action="/people/invitations/${i.id}/revocation"><button class="quiet">Take back<span class="visually-hidden"> the link for ${i.note || i.personName || i.role}</span></button></form></li>`,
    )}</ul>`
  }
</section>
<section class="panel" id="bench"><h2>Add a bench device</h2>
  <p>A tablet or phone that stays at the bench. It may log what happens there, and look; it can change nothing else. Sign it in with a code from this screen, so that no passphrase is typed with wet gloves.</p>
  <form method="post" action="/people/bench-devices" class="stack">${formNotice(p.bench)}
    ${field({ name: 'name', label: 'Name of the device', form: p.bench, required: true, placeholder: 'tablet at the vats' })}
    <button>Add it</button></form>
</section>`;

/** One person or bench device, as the owner sees them. */
export const personPage = (p: {
  person: { id: number; name: string; role: PersonItem['role']; active: boolean };
  form: FormState;
  signIns: readonly SignInItem[];
  opened: Opened | null;
  currency: string;
  show: Show;
}): Html => {
  const { person } = p;
  const isBench = person.role === 'bench';
  return html`${pageHead({
    title: html`${person.name} ${!person.active && leftBadge}`,
    crumb: { href: '/people', label: 'People' },
    lead: roleText(person.role),
    actions: html`<a class="button" href="/audit?personId=${person.id}">What ${person.name} did</a>`,
  })}
${p.opened && openedNotice(p.opened)}
<form method="post" action="/people/${person.id}" class="panel stack">${formNotice(p.form)}<div class="grid">
  ${field({ name: 'name', label: 'Name', form: p.form, required: true })}
  ${
    !isBench &&
    html`${choice({ name: 'role', label: 'Role', form: p.form, options: roleOptions, hint: roleHint })}
  ${field({ name: 'labourRate', label: 'Labour rate', form: p.form, unit: `${p.currency}/h`, inputmode: 'decimal', size: 'short', hint: 'Empty: the studio’s rate. Lots finished already keep the rate they had.' })}`
  }
  </div><button class="primary">Save</button></form>
<section class="panel"><h2>Signed in on</h2>${signInTable({ signIns: p.signIns, action: (key) => `/people/${person.id}/sign-ins/${key}/revocation`, show: p.show })}</section>
<section class="panel"><h2>${isBench ? 'Sign this device in' : 'Passphrase'}</h2>
  ${
    !person.active
      ? html`<p>Nobody signs in under this name.</p>`
      : isBench
        ? html`<p>Make a code, open the studio’s address on the device, choose “This is a bench device” and type it.</p><form method="post" action="/people/${person.id}/bench-code"><button>Make a code</button></form>`
        : html`<p>Lost? Make a link that lets ${person.name} choose a new one. It works once, for a day.</p><form method="post" action="/people/${person.id}/passphrase-link"><button>Make a passphrase link</button></form>`
  }</section>
<section class="panel"><h2>${person.active ? 'Let in no more' : 'Let in again'}</h2>
  <p>${person.active ? 'Every sign-in, link and API token of theirs ends at once. What they did stays under their name.' : 'They may sign in again; API tokens have to be made anew.'}</p>
  <form method="post" action="/people/${person.id}/standing"><input type="hidden" name="active" value="${person.active ? 'no' : 'yes'}"><button>${person.active ? `${person.name} has left` : `Let ${person.name} in again`}</button></form>
</section>`;
};
