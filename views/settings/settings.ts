import { Html, html } from '../html.ts';
import { checkbox, choice, type FormState, field, formNotice, type Option, selectField } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { readabilityOptions } from './readability.ts';

export interface SettingsProps {
  studio: FormState;
  scale: FormState;
  mayChange: boolean;
  currencies: readonly Option[];
  zones: readonly string[];
  currencySymbol: string;
  scales: readonly { id: number; name: string; readability: string; isDefault: boolean }[];
  /** QR codes as SVG text made by our own server. */
  /** The newest link of the record; null before the first. */
  record: { links: number; link: string } | null;
  addresses: readonly { address: string; qrSvg: string }[];
}

const studioForm = (
  p: SettingsProps,
): Html => html`<form method="post" action="/settings" class="stack">${formNotice(p.studio)}
  <input type="hidden" name="version" value="${p.studio.typed['version'] ?? ''}">
  <div class="grid">
  ${field({ name: 'name', label: 'Name of the studio', form: p.studio, required: true })}
  ${selectField({ name: 'currency', label: 'Currency', form: p.studio, options: p.currencies, required: true })}
  ${field({ name: 'zone', label: 'Time zone', form: p.studio, required: true, list: 'zones' })}
  <datalist id="zones">${p.zones.map((z) => html`<option value="${z}"></option>`)}</datalist>
  ${choice({
    name: 'units',
    label: 'Units on screen',
    form: p.studio,
    options: [
      { value: 'metric', label: 'Metric' },
      { value: 'us', label: 'US' },
    ],
  })}
  ${field({
    name: 'labourRate',
    label: 'Labour rate',
    form: p.studio,
    unit: `${p.currencySymbol}/h`,
    inputmode: 'decimal',
    size: 'short',
    hint: 'What an hour of hands costs the studio, with on-costs.',
  })}
  ${field({
    name: 'overheadRate',
    label: 'Overhead rate',
    form: p.studio,
    unit: `${p.currencySymbol}/h`,
    inputmode: 'decimal',
    size: 'short',
    hint: 'Rent, power and water of a normal year ÷ its labour hours.',
  })}
  ${field({
    name: 'weighingTolerance',
    label: 'Weighing tolerance',
    form: p.studio,
    unit: '%',
    inputmode: 'decimal',
    size: 'short',
    hint: 'A reading outside ± this asks what to do.',
  })}
  ${field({
    name: 'weighingFloor',
    label: 'Rounding error that calls for stock solution',
    form: p.studio,
    unit: '%',
    inputmode: 'decimal',
    size: 'short',
    hint: 'Below the mass where half a scale step is more than this, weigh-ups use stock solution.',
  })}
  ${field({
    name: 'stockConc',
    label: 'Usual strength of stock solutions',
    form: p.studio,
    unit: '% w/v',
    inputmode: 'decimal',
    size: 'short',
  })}
  ${choice({
    name: 'costing',
    label: 'Dyes and auxiliaries are valued',
    form: p.studio,
    options: [
      { value: 'specific', label: 'by the jar really used' },
      { value: 'movingAverage', label: 'at a moving average' },
    ],
    hint: 'Holds for lots finished from now on. An accountant knows which one your books keep.',
  })}
  </div>
  ${p.mayChange && html`<button class="primary">Save settings</button>`}
</form>`;

/** Pages of their own that belong here. */
const further = (p: SettingsProps): Html | false =>
  p.mayChange &&
  html`<nav class="panel" aria-label="More settings"><ul class="link-row">${[
    ['/people', 'People'],
    ['/audit', 'Who did what'],
    ['/settings/tokens', 'API tokens'],
    ['/settings/backup', 'Backup'],
    ['/imports', 'Import'],
    ['/settings/export', 'Export'],
  ].map(([href, label]) => html`<li><a class="button" href="${href}">${label}</a></li>`)}</ul></nav>`;

/** What whoever writes it down can hold the record against later. */
const recordHead = ({ links, link }: { links: number; link: string }): Html =>
  html`<section class="panel" id="record"><h2>The record</h2>
  <p>Log, weighings, stock, costs and audit hold <b>${links.toLocaleString(
    'en',
  )}</b> entries, each sealed with the one before it. The seal of the newest:</p>
  <p><code class="record-seal">${link.match(/.{8}/g)?.join(' ')}</code></p>
  <p class="fine">Whoever has written down the number and the seal can tell later whether anything up to it was
    changed. Both stand in each backup and on each export too.</p>
</section>`;

/** Settings: the studio, its scales, the ways in. */
export const settingsPage = (p: SettingsProps): Html => html`${pageHead({ title: 'Settings' })}
${further(p)}
<section class="panel" id="studio"><h2>The studio</h2>${studioForm(p)}</section>
<section class="panel" id="scales"><h2>Scales</h2>
  <table class="plain"><thead><tr><th>Scale</th><th class="num">Reads to</th><th><span
    class="visually-hidden">Do</span></th></tr></thead><tbody>${p.scales.map(
      (s) =>
        html`<tr><td>${s.name}</td><td class="num">${s.readability}</td><td>${
          s.isDefault
            ? 'weigh-ups are rounded to this one'
            : p.mayChange &&
              html`<form method="post" action="/settings/scales/${s.id}/choice"><button class="quiet">Use for
              weigh-ups</button></form>`
        }</td></tr>`,
    )}</tbody></table>
  ${
    p.mayChange &&
    html`<details ${
      Object.keys(p.scale.errors).length > 0 && html`open`
    }><summary>Add a scale</summary><form method="post" action="/settings/scales" class="stack">${formNotice(p.scale)}
    <div class="grid">${field({ name: 'scaleName', label: 'Name', form: p.scale, required: true })}
    ${choice({ name: 'readabilityMg', label: 'Reads to', form: p.scale, options: readabilityOptions })}
    ${checkbox({
      name: 'isDefault',
      label: 'Round weigh-ups to this one',
      form: p.scale,
    })}</div><button>Add scale</button></form></details>`
  }
</section>
<section class="panel" id="addresses"><h2>Open on another device</h2>
  <p>Any browser on the studio’s network. Point a phone’s camera at a code. <a href="/trust">Secure connection</a>:
    what a bench needs to open without network, and how a phone comes to trust this studio.</p>
  <div class="qr-row">${p.addresses.map(
    (a) =>
      html`<figure><div class="qr">${new Html(
        a.qrSvg,
      )}</div><figcaption><a href="${a.address}">${a.address}</a></figcaption></figure>`,
  )}</div>
</section>
${p.record !== null && recordHead(p.record)}`;
