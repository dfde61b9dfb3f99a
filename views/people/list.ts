import { type Html, html } from '../html.ts';
import { choice, type FormState, field, formNotice } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { money, type Show, when } from '../kit/show.ts';
import { type Opened, openedNotice } from './opened.ts';
import { leftBadge, ROLE_NAMES, type Role, roleHint, roleOptions, roleText } from './roles.ts';

interface PersonItem {
  id: number;
  name: string;
  role: Role;
  active: number;
  labourRateMinorPerHour: number | null;
  liveSignIns: number;
  lastSeenAt: number | null;
}

/** Everybody who may sign in, and the ways in that stand open. Long because it is one page, from top to bottom. */
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
  step: FormState;
  opened: Opened | null;
  show: Show;
}): Html => html`${pageHead({
  title: 'People',
  crumb: { href: '/settings', label: 'Settings' },
  lead: 'Who may come in, and what each may do. Nobody is erased: their name stays on what they did.',
  actions: html`<a class="button" href="/audit">Who did what</a>`,
})}
${p.opened && openedNotice(p.opened)}
<section class="panel"><h2>In the studio</h2><table class="plain shelf"><thead><tr><th scope="col">Name</th>
  <th scope="col">Role</th><th scope="col" class="num">Labour rate</th><th scope="col" class="num">Signed in on</th>
  <th scope="col">Last seen</th></tr></thead><tbody>${p.people.map(
    (x) =>
      html`<tr><th scope="row"><a href="/people/${x.id}">${x.name}</a> ${
        x.active !== 1 && leftBadge
      }</th><td data-label="Role">${ROLE_NAMES[x.role]}</td><td class="num" data-label="Labour rate">${
        x.role === 'bench'
          ? '—'
          : x.labourRateMinorPerHour === null
            ? html`<span class="fine">the studio’s</span>`
            : html`${money(p.show, x.labourRateMinorPerHour)}/h`
      }</td><td class="num" data-label="Signed in on">${x.liveSignIns}</td><td data-label="Last seen">${when(
        p.show,
        x.lastSeenAt,
      )}</td></tr>`,
  )}</tbody></table></section>
<section class="panel" id="invite"><h2>Invite somebody</h2>
  <p>You get a link that works once, for three days. The person chooses name and passphrase; you never see it.</p>
  <form method="post" action="/people/invitations" class="stack">${formNotice(p.invitation)}<div class="grid">
    ${choice({ name: 'role', label: 'They will be', form: p.invitation, options: roleOptions, hint: roleHint })}
    ${field({
      name: 'labourRate',
      label: 'Labour rate',
      form: p.invitation,
      unit: `${p.show.currency}/h`,
      inputmode: 'decimal',
      size: 'short',
      hint: 'Empty: the studio’s rate.',
    })}
    ${field({
      name: 'note',
      label: 'Whom is it for?',
      form: p.invitation,
      hint: 'So that you know which link is which.',
    })}
  </div><button class="primary">Make the link</button></form>
  ${
    p.invitations.length > 0 &&
    html`<h3 class="apart">Open links and codes</h3><ul class="rows">${p.invitations.map(
      (i) =>
        html`<li class="list-row"><span class="grow"><b>${
          i.kind === 'person' ? i.note || roleText(i.role ?? '') : i.personName
        }</b><br><span class="fine">${
          i.kind === 'person'
            ? `invitation, ${i.role}`
            : i.kind === 'bench'
              ? 'code of a bench device'
              : 'new passphrase'
        } · until ${when(p.show, i.expiresAt)}</span></span>
        <form method="post" action="/people/invitations/${i.id}/revocation"><button class="quiet">Take back<span
          class="visually-hidden"> the link for ${i.note || i.personName || i.role}</span></button></form></li>`,
    )}</ul>`
  }
</section>
<section class="panel" id="bench"><h2>Add a bench device</h2>
  <p>A tablet or phone that stays at the bench. It may log what happens there, and look; it can change nothing else.
    Sign it in with a code from this screen, so that no passphrase is typed with wet gloves.</p>
  <form method="post" action="/people/bench-devices" class="stack">${formNotice(p.bench)}
    ${field({
      name: 'name',
      label: 'Name of the device',
      form: p.bench,
      required: true,
      placeholder: 'tablet at the vats',
    })}
    <button>Add it</button></form>
</section>
<section class="panel" id="second-step"><h2>Second step</h2>
  <p>Everybody can let their phone be asked besides the passphrase, on <a href="/account/second-step">their own
    page</a>. An owner sees and changes everything, so it can be asked of all owners: who has none then sets one up
    before any other page opens.</p>
  <form method="post" action="/people/second-step" class="stack">${formNotice(p.step)}
    ${choice({
      name: 'required',
      label: 'Owners need a second step',
      form: p.step,
      options: [
        { value: 'yes', label: 'Yes' },
        { value: 'no', label: 'No' },
      ],
    })}
    <button>Save</button></form>
</section>`;
