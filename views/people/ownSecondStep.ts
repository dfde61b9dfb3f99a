import { Html, html } from '../html.ts';
import { type FormState, field, formNotice } from '../kit/field.ts';
import { badge, pageHead } from '../kit/pageHead.ts';
import { type Show, when } from '../kit/show.ts';
import { codesOnPaper } from './codesOnPaper.ts';
import { passkeyForm } from './secondStep.ts';

export interface OwnSecondStepProps {
  name: string;
  studioName: string;
  /** Whether the passphrase was typed just now, so that something may be changed. */
  mayChange: boolean;
  /** Whether owners have to have one and this owner has none: no other page opens. */
  isDemanded: boolean;
  form: FormState;
  passkeys: readonly { id: number; name: string; hostName: string; addedAt: number; lastUsedAt: number | null }[];
  /** What the browser needs to make a passkey; null where the connection allows none. */
  passkeyOptions: string | null;
  app: 'none' | 'begun' | 'on';
  /** The secret of an app that is being set up. */
  setUp: { secret: string; qrSvg: string } | null;
  codesLeft: number;
  freshCodes: readonly string[] | null;
  show: Show;
}

const stateWords = (p: OwnSecondStepProps): Html => {
  const isOn = p.passkeys.length > 0 || p.app === 'on';
  return isOn
    ? html`<p>${badge({
        label: 'on',
        tone: 'good',
      })} After your passphrase, ${[p.passkeys.length > 0 && 'a passkey', p.app === 'on' && 'a code of the app']
        .filter(Boolean)
        .join(' or ')} is asked for. Codes on paper left: ${p.codesLeft}.</p>`
    : html`<p>Somebody who has found out your passphrase still does not come in: a phone has to say yes too. Choose a
      passkey where you can, and codes from an app elsewhere.</p>`;
};

const lock = (
  p: OwnSecondStepProps,
): Html => html`<form method="post" action="/account/second-step/opening" class="stack">
    ${field({
      name: 'current',
      label: 'Your passphrase',
      form: p.form,
      type: 'password',
      required: true,
      autocomplete: 'current-password',
      hint: 'To set it up, or to change it.',
    })}
    <button class="primary">Go on</button></form>`;

const passkeyPart = (p: OwnSecondStepProps): Html => html`<section class="panel" id="passkeys"><h2>Passkeys</h2>
  ${
    p.passkeys.length > 0 &&
    html`<table class="plain shelf"><thead><tr><th scope="col">Passkey</th><th scope="col">For</th>
      <th scope="col">Added</th><th scope="col">Last used</th><th scope="col"><span
      class="visually-hidden">Do</span></th></tr></thead><tbody>${p.passkeys.map(
        (x) =>
          html`<tr><th scope="row">${x.name}</th><td data-label="For">${x.hostName}</td><td data-label="Added">${when(
            p.show,
            x.addedAt,
          )}</td><td data-label="Last used">${when(p.show, x.lastUsedAt)}</td><td>${
            p.mayChange &&
            html`<form method="post" action="/account/second-step/passkeys/${x.id}/removal"><button class="quiet">Take
            away<span class="visually-hidden"> ${x.name}</span></button></form>`
          }</td></tr>`,
      )}</tbody></table>`
  }
  ${
    p.passkeyOptions === null
      ? html`<p>Browsers make passkeys only over https, and only where the address is a name and not a number. <a
        href="/trust">Secure connection</a> tells how this studio gets there.</p>`
      : html`<p>Your phone or computer keeps it and asks for your finger, your face or its own code.</p>${
          p.mayChange &&
          passkeyForm({
            action: '/account/second-step/passkeys',
            does: 'make',
            options: p.passkeyOptions,
            form: p.form,
            fields: field({
              name: 'name',
              label: 'Name of the passkey',
              form: p.form,
              required: true,
              placeholder: 'my phone',
            }),
            label: 'Add a passkey',
          })
        }`
  }</section>`;

const appPart = (p: OwnSecondStepProps): Html => html`<section class="panel" id="app"><h2>Codes from an app</h2>
  ${
    p.setUp
      ? html`<p>Point the app at this code, or type the secret into it. Then type the six digits that it shows.</p>
    <div class="qr-row"><figure><div class="qr">${new Html(
      p.setUp.qrSvg,
    )}</div><figcaption><code class="token">${p.setUp.secret}</code></figcaption></figure></div>
    <form method="post" action="/account/second-step/code-app/confirmation" class="stack apart">
    ${field({
      name: 'code',
      label: 'Code that the app shows',
      form: p.form,
      required: true,
      inputmode: 'numeric',
      autocomplete: 'one-time-code',
      size: 'short',
    })}
    <button class="primary">Switch it on</button></form>`
      : p.app === 'on'
        ? html`<p>${badge({ label: 'on', tone: 'good' })} Six digits, new every half minute.</p>${
            p.mayChange &&
            html`<form method="post" action="/account/second-step/code-app/removal"><button class="quiet">Take the app
              away</button></form>`
          }`
        : html`<p>Any app for time-based codes will do. It needs no network; the clocks of phone and studio must agree
          to half a minute.</p>${
            p.mayChange &&
            html`<form method="post"
          action="/account/second-step/code-app"><button>Set an app up</button></form>`
          }`
  }</section>`;

const paperPart = (p: OwnSecondStepProps): Html | false =>
  (p.passkeys.length > 0 || p.app === 'on') &&
  html`<section class="panel" id="paper"><h2>Codes on paper</h2><p>For when the phone is lost. Left: ${p.codesLeft}.</p>
  ${
    p.mayChange &&
    html`<form method="post" action="/account/second-step/recovery-codes"><button>Make ten new
    ones</button></form><p class="fine">The old paper is worth nothing then.</p>`
  }</section>`;

/** One's own second step at the door. */
export const ownSecondStepPage = (p: OwnSecondStepProps): Html => html`${pageHead({
  title: 'Second step',
  crumb: { href: '/account', label: p.name },
})}
${
  p.isDemanded &&
  html`<p class="notice warn"><b>Owners of this studio need a second step.</b> Set yours up; the other
  pages open then.</p>`
}
${p.freshCodes && codesOnPaper({ codes: p.freshCodes, name: p.name, studioName: p.studioName })}
${formNotice(p.form)}
<section class="panel">${stateWords(p)}${!p.mayChange && lock(p)}</section>
${(p.mayChange || p.passkeys.length > 0) && passkeyPart(p)}
${(p.mayChange || p.app === 'on') && appPart(p)}
${p.mayChange && paperPart(p)}`;
