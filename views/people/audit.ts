import { type Html, html } from '../html.ts';
import { badge, emptyState, pageHead, pager } from '../kit/pageHead.ts';
import { type Show, when } from '../kit/show.ts';

export interface AuditItem {
  id: number;
  at: number;
  personName: string | null;
  tokenName: string | null;
  door: 'page' | 'api' | 'command';
  action: string;
  path: string;
  status: number;
  detail: string;
  address: string;
}

/** What the routes of doors and keeping are called; the others are told from their address. */
const WORDS: Readonly<Record<string, string>> = {
  'POST /sign-in': 'signed in',
  'POST /sign-out': 'signed out',
  'POST /first-run': 'set the studio up',
  'POST /invitation/:token': 'used a one-time link',
  'POST /bench-device': 'signed a bench device in',
  'POST /account/passphrase': 'changed the own passphrase',
  'POST /people/invitations': 'invited somebody',
  'POST /people/bench-devices': 'added a bench device',
  'POST /people/:id': 'changed a person',
  'POST /people/:id/standing': 'let a person in or out',
  'POST /people/:id/bench-code': 'made a bench code',
  'POST /people/:id/passphrase-link': 'made a passphrase link',
  'POST /settings': 'changed the settings',
  'POST /settings/tokens': 'made an API token',
  'POST /second-step': 'took the second step',
  'POST /second-step/passkey': 'took the second step',
  'POST /account/second-step/opening': 'typed the passphrase to change the own second step',
  'POST /account/second-step/passkeys': 'added a passkey',
  'POST /account/second-step/passkeys/:id/removal': 'took a passkey away',
  'POST /account/second-step/code-app': 'began to set an app for codes up',
  'POST /account/second-step/code-app/confirmation': 'set an app for codes up',
  'POST /account/second-step/code-app/removal': 'took the app for codes away',
  'POST /account/second-step/recovery-codes': 'made new codes on paper',
  'POST /people/:id/second-step/removal': 'ended the second step of somebody',
  'POST /people/second-step': 'changed whether owners need a second step',
  'GET /settings/backups/:id/file': 'downloaded a backup',
  'GET /settings/export/everything.zip': 'downloaded everything',
  'GET /settings/export/everything.json': 'downloaded everything',
  'POST /settings/backup': 'changed when backups are made',
  'POST /settings/backups': 'made a backup',
  'POST /account/sign-ins/:key/revocation': 'signed a device of their own out',
  'POST /account/other-sign-ins/revocation': 'signed out everywhere else',
  'POST /imports/drafts': 'sent a file to import',
  'POST /imports/drafts/:draftId/acceptance': 'imported a file',
  'POST /imports/:id/undoing': 'took an import back',
  'POST /api/v1/imports/swatches': 'imported swatches',
  'POST /api/v1/imports/:id/undoing': 'took an import back',
  backup: 'made a backup',
  restore: 'restored a backup',
  'way-in': 'ended a second step and made a passphrase link',
};

/** 'POST /lots/:id/outcome' of /lots/12/outcome → 'lots 12: outcome'. Actions of the house are nouns, so the
 *  address says it. */
function actionText({ action, path }: Pick<AuditItem, 'action' | 'path'>): string {
  const known = WORDS[action];
  if (known) return known;
  const [, pattern = action] = action.split(' ');
  const parts = path
    .replace(/^\/api\/v1/, '')
    .split('/')
    .filter(Boolean);
  const named = pattern
    .replace(/^\/api\/v1/, '')
    .split('/')
    .filter(Boolean);
  const what = parts.map((part) => part.replaceAll('-', ' '));
  if (named.length === 0) return action;
  if (named.length === 1) return `${what[0] ?? named[0]}: added one`;
  if (named.length === 2 && named[1]?.startsWith(':')) return `${what[0]} ${what[1]}: saved`;
  return `${what.slice(0, -1).join(' ')}: ${what.at(-1) ?? ''}`;
}

/** The audit, the latest first. */
export const auditPage = (p: {
  lines: readonly AuditItem[];
  nextBefore: number | null;
  personId: number | null;
  people: readonly { id: number; name: string }[];
  show: Show;
}): Html => html`${pageHead({
  title: 'Who did what',
  crumb: { href: '/people', label: 'People' },
  lead: 'Every change and every sign-in, as it was answered. Work at the bench stands in the log of its lot. Nothing here can be edited or erased.',
})}
<form method="get" action="/audit" class="filter-row"><label for="f-personId">Whose</label> <select id="f-personId"
  name="personId"><option value="">everybody’s</option>${p.people.map(
    (x) => html`<option value="${x.id}"
  ${x.id === p.personId && html`selected`}>${x.name}</option>`,
  )}</select> <button>Show</button></form>
${
  p.lines.length === 0
    ? emptyState({ title: 'Nothing yet', words: 'What is changed from now on will stand here.' })
    : html`<div class="panel"><table class="plain shelf audit"><thead><tr><th scope="col">When</th>
      <th scope="col">Who</th><th scope="col">What</th><th scope="col">From</th></tr></thead><tbody>${p.lines.map(
        (l) =>
          html`<tr><td data-label="When">${when(p.show, l.at)}</td><td data-label="Who">${l.personName ?? '—'}${
            l.tokenName && html`<br><span class="fine">by token “${l.tokenName}”</span>`
          }</td><td data-label="What">${actionText(l)} ${
            l.status >= 400 && badge({ label: `refused, ${l.status}`, tone: 'warn' })
          }${l.detail && html`<br><span class="fine">${l.detail}</span>`}<br><span class="fine">${
            l.door === 'command' ? 'by command' : l.path || l.action
          }</span></td><td data-label="From">${l.address || '—'}</td></tr>`,
      )}</tbody></table></div>`
}
${pager({
  nextHref:
    p.nextBefore === null
      ? null
      : `/audit?before=${p.nextBefore}${p.personId === null ? '' : `&personId=${p.personId}`}`,
  firstHref: null,
})}`;
