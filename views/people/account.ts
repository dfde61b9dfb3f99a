import { type Html, html } from '../html.ts';
import { type FormState, field, formNotice } from '../kit/field.ts';
import { badge, pageHead } from '../kit/pageHead.ts';
import type { Show } from '../kit/show.ts';
import { roleText } from './roles.ts';
import { type SignInItem, signInTable } from './signInTable.ts';
import type { TokenItem } from './tokens.ts';
import { tokensThen } from './tokensThen.ts';

/** One's own passphrase and devices. */
export const accountPage = (p: {
  name: string;
  role: string;
  form: FormState;
  saved: boolean;
  signIns: readonly SignInItem[];
  tokens: readonly Omit<TokenItem, 'personName'>[];
  hasSecondStep: boolean;
  show: Show;
}): Html => html`${pageHead({ title: p.name, lead: `Signed in as ${roleText(p.role)}.` })}
${
  p.saved &&
  html`<p class="notice good" role="status">The new passphrase counts from now on. Your other devices were
  signed out.</p>`
}
${
  p.role !== 'bench' &&
  html`<section class="panel"><h2>Change your passphrase</h2>
  <form method="post" action="/account/passphrase" class="stack">${formNotice(p.form)}<div class="grid">
    ${field({
      name: 'current',
      label: 'Passphrase now',
      form: p.form,
      type: 'password',
      required: true,
      autocomplete: 'current-password',
    })}
    ${field({
      name: 'passphrase',
      label: 'New passphrase',
      form: p.form,
      type: 'password',
      required: true,
      autocomplete: 'new-password',
      hint: 'Twelve characters or more. Four unrelated words are good.',
    })}
  </div>${tokensThen({
    form: p.form,
    tokens: p.tokens,
    show: p.show,
  })}<button class="primary">Change it</button></form></section>
<section class="panel"><h2>Second step</h2><p>${
    p.hasSecondStep
      ? html`${badge({ label: 'on', tone: 'good' })} Your phone is asked as well when you sign in.`
      : 'Besides the passphrase, your phone can be asked when you sign in.'
  }</p><p><a class="button" href="/account/second-step">${
    p.hasSecondStep ? 'Change it' : 'Set it up'
  }</a></p></section>`
}
<section class="panel"><h2>Signed in on</h2>${signInTable({
  signIns: p.signIns,
  action: (key) => `/account/sign-ins/${key}/revocation`,
  show: p.show,
})}
${
  p.signIns.length > 1 &&
  html`<form method="post" class="apart"
  action="/account/other-sign-ins/revocation"><button>Sign out everywhere else</button></form>`
}</section>`;
