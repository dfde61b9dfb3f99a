import { type Html, html } from '../html.ts';
import { choice, type FormState, field, formNotice, selectField } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { type Show, when } from '../kit/show.ts';

export interface TokenItem {
  id: number;
  name: string;
  scope: 'read' | 'write';
  personName: string;
  createdAt: number;
  lastUsedAt: number | null;
  expiresAt: number | null;
}

export const scopeText = (scope: TokenItem['scope']): string => (scope === 'read' ? 'read' : 'read and record');

const tokenRow = (t: TokenItem, show: Show): Html =>
  html`<tr><th scope="row">${t.name}</th><td data-label="May">${scopeText(
    t.scope,
  )}</td><td data-label="Of">${t.personName}</td><td data-label="Made">${when(
    show,
    t.createdAt,
  )}</td><td data-label="Last used">${when(show, t.lastUsedAt)}</td><td data-label="Until">${
    t.expiresAt === null ? 'it is revoked' : when(show, t.expiresAt)
  }</td><td><form method="post" action="/settings/tokens/${t.id}/revocation"><button class="quiet">Revoke<span
    class="visually-hidden"> ${t.name}</span></button></form></td></tr>`;

/** The ways in of scripts. */
export const tokensPage = (p: {
  form: FormState;
  /** A token just made, shown once. */
  freshToken: string | null;
  tokens: readonly TokenItem[];
  show: Show;
}): Html => html`${pageHead({ title: 'API tokens', crumb: { href: '/settings', label: 'Settings' } })}
<section class="panel">
  <p>For scripts: <code>Authorization: Bearer …</code> on <a href="/api/v1/openapi.json">/api/v1</a>. A token acts in
    your name, and is shown once.</p>
  ${
    p.freshToken &&
    html`<div class="notice good" role="status"><p>Copy it now; only its hash is kept:</p><p><code
    class="token">${p.freshToken}</code></p></div>`
  }
  ${
    p.tokens.length > 0 &&
    html`<table class="plain shelf"><thead><tr><th scope="col">For</th><th scope="col">May</th>
      <th scope="col">Of</th><th scope="col">Made</th><th scope="col">Last used</th><th scope="col">Until</th>
      <th scope="col"><span
      class="visually-hidden">Do</span></th></tr></thead><tbody>${p.tokens.map((t) =>
        tokenRow(t, p.show),
      )}</tbody></table>`
  }
</section>
<section class="panel"><h2>Make one</h2>
  <form method="post" action="/settings/tokens" class="stack">${formNotice(p.form)}<div class="grid">
    ${field({ name: 'name', label: 'What is it for?', form: p.form, required: true })}
    ${choice({
      name: 'scope',
      label: 'It may',
      form: p.form,
      options: [
        { value: 'read', label: scopeText('read') },
        { value: 'write', label: scopeText('write') },
      ],
    })}
    ${selectField({
      name: 'days',
      label: 'Lasts',
      form: p.form,
      options: [
        { value: '30', label: '30 days' },
        { value: '365', label: 'a year' },
      ],
      none: 'until revoked',
    })}
    </div><button>Make a token</button></form>
</section>`;
