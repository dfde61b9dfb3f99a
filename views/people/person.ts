import { type Html, html } from '../html.ts';
import { choice, type FormState, field, formNotice } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import type { Show } from '../kit/show.ts';
import { type Opened, openedNotice } from './opened.ts';
import { leftBadge, type Role, roleHint, roleOptions, roleText } from './roles.ts';
import { type SignInItem, signInTable } from './signInTable.ts';

/** One person or bench device, as the owner sees them. */
export const personPage = (p: {
  person: { id: number; name: string; role: Role; active: boolean };
  form: FormState;
  signIns: readonly SignInItem[];
  hasSecondStep: boolean;
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
  ${field({
    name: 'labourRate',
    label: 'Labour rate',
    form: p.form,
    unit: `${p.currency}/h`,
    inputmode: 'decimal',
    size: 'short',
    hint: 'Empty: the studio’s rate. Lots finished already keep the rate they had.',
  })}`
  }
  </div><button class="primary">Save</button></form>
<section class="panel"><h2>Signed in on</h2>${signInTable({
    signIns: p.signIns,
    action: (key) => `/people/${person.id}/sign-ins/${key}/revocation`,
    show: p.show,
  })}</section>
<section class="panel"><h2>${isBench ? 'Sign this device in' : 'Passphrase'}</h2>
  ${
    !person.active
      ? html`<p>Nobody signs in under this name.</p>`
      : isBench
        ? html`<p>Make a code, open the studio’s address on the device, choose “This is a bench device” and type
          it.</p><form method="post" action="/people/${person.id}/bench-code"><button>Make a code</button></form>`
        : html`<p>Lost? Make a link that lets ${person.name} choose a new one. It works once, for a day.</p>
          <form method="post" action="/people/${person.id}/passphrase-link"><button>Make a passphrase
            link</button></form>`
  }</section>
${
  p.hasSecondStep &&
  html`<section class="panel"><h2>Second step</h2><p>${person.name}’s phone is asked as well when they sign in. End it
    only when phone and paper are both lost, and you know that it is ${person.name} who says so.</p>
    <form method="post" action="/people/${person.id}/second-step/removal">
    <button>End the second step</button></form></section>`
}
<section class="panel"><h2>${person.active ? 'Let in no more' : 'Let in again'}</h2>
  <p>${
    person.active
      ? 'Every sign-in, link and API token of theirs ends at once. What they did stays under their name.'
      : 'They may sign in again; API tokens have to be made anew.'
  }</p>
  <form method="post" action="/people/${person.id}/standing"><input type="hidden" name="active" value="${
    person.active ? 'no' : 'yes'
  }"><button>${person.active ? `${person.name} has left` : `Let ${person.name} in again`}</button></form>
</section>`;
};
