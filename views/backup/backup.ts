import type { ReplicaShape } from '../../server/backup/schemas.ts';
import { type Html, html } from '../html.ts';
import { checkbox, type FormState, field, formNotice } from '../kit/field.ts';
import { badge, emptyState, pageHead } from '../kit/pageHead.ts';
import { type Show, when } from '../kit/show.ts';

export interface RunItem {
  id: number;
  how: 'daily' | 'button' | 'command';
  startedAt: number;
  finishedAt: number | null;
  file: string;
  byteSize: number | null;
  madeByName: string | null;
  failure: string;
  removedAt: number | null;
  isThere: boolean;
}

export interface BackupProps {
  form: FormState;
  runs: readonly RunItem[];
  folder: string;
  sameDisk: boolean;
  state: {
    lastGoodAt: number | null;
    isOld: boolean;
    triedAt: number | null;
    trialFailure: string;
    isTrialOverdue: boolean;
  };
  running: boolean;
  passphrase: FormState;
  isEncrypted: boolean;
  /** The studio’s key, in groups. */
  key: string;
  replica: ReplicaShape | null;
  show: Show;
}

const HOW = { daily: 'daily', button: 'by hand', command: 'by command' } as const;

/** A size as files have it. */
export const sizeText = (byteSize: number): string =>
  byteSize < 1e6
    ? `${Math.max(1, Math.round(byteSize / 1e3))} kB`
    : byteSize < 1e9
      ? `${(byteSize / 1e6).toFixed(1)} MB`
      : `${(byteSize / 1e9).toFixed(2)} GB`;

const state = (r: RunItem): Html =>
  r.failure
    ? html`${badge({ label: r.byteSize === null ? 'failed' : 'not good', tone: 'bad' })} ${r.failure}`
    : r.finishedAt === null
      ? badge({ label: 'under way', tone: 'busy' })
      : r.removedAt !== null
        ? badge({ label: 'thinned out', tone: 'plain' })
        : r.isThere
          ? badge({ label: 'good', tone: 'good' })
          : badge({ label: 'no longer there', tone: 'warn' });

/** What is known of whether an archive would come back. */
const trialWords = ({ state: s, show }: BackupProps): Html =>
  html`${s.trialFailure !== '' && html`<b>The newest archive did not come back on trial.</b> ${s.trialFailure} `}${
    s.triedAt === null
      ? s.lastGoodAt === null
        ? 'Once a week the newest archive is restored for trial, into a folder that is thrown away.'
        : 'No archive has been restored for trial yet; that is done once a week, in the background.'
      : html`Last restored for trial, with everything as it must be: ${when(show, s.triedAt)}${
          s.isTrialOverdue && html` <b>(overdue)</b>`
        }.`
  }`;

/** How far the copy at the other site is behind. */
export const replicaWords = (r: ReplicaShape, show: Show): Html =>
  r.at === null
    ? html`<b>There is no replica in ${r.folder}.</b> Its folder is empty or cannot be reached.`
    : r.isBehind
      ? html`<b>The replica is behind.</b> It was last written ${when(show, r.at)}, and the studio has gone on since.`
      : html`The replica was last written ${when(show, r.at)}, and holds what the studio had written by then.`;

/** Backups: the last good one, one button, the settings, the list. Long because it is one page, from top to bottom. */
export const backupPage = (p: BackupProps): Html => html`${pageHead({
  title: 'Backup',
  crumb: { href: '/settings', label: 'Settings' },
  lead: 'One archive holds everything: the database, the photos, the recordings, and a list with a hash of each.',
})}
<section class="panel" id="now"><h2>Last good backup</h2>
  <p class="big-number">${p.state.lastGoodAt === null ? 'none yet' : when(p.show, p.state.lastGoodAt)}</p>
  ${
    p.state.isOld &&
    !p.running &&
    html`<p class="notice warn">${
      p.state.lastGoodAt === null
        ? 'The record of the studio is on one disk only.'
        : 'That is longer ago than the studio wants.'
    }</p>`
  }
  ${
    p.running
      ? html`<p class="notice" role="status" hx-get="/settings/backup" hx-trigger="load delay:2s" hx-target="#main"
        hx-swap="innerHTML">A backup is being made. You can go on working.</p>`
      : html`<form method="post" action="/settings/backups"><button class="primary big">Back up now</button></form>`
  }
  <p class="apart">${trialWords(p)}</p>
  <p class="apart">Archives go to <code>${p.folder}</code>. ${
    p.sameDisk
      ? html`<b>That is on the same disk as the studio</b>: copy them elsewhere, or set BACKUP_DIR to a folder on
        another disk.`
      : 'That is another disk than the studio’s.'
  }</p>
</section>
<section class="panel" id="settings"><h2>Every day</h2>
  <form method="post" action="/settings/backup" class="stack">${formNotice(
    p.form,
  )}<input type="hidden" name="version" value="${p.form.typed['version'] ?? ''}">
  ${checkbox({ name: 'daily', label: 'Make a backup every day', form: p.form })}
  <div class="grid">
  ${field({
    name: 'dailyAt',
    label: 'At',
    form: p.form,
    size: 'short',
    required: true,
    hint: 'If the computer is off at that time, it is made when it runs again.',
  })}
  ${field({
    name: 'keepCount',
    label: 'Keep the newest',
    form: p.form,
    unit: 'archives',
    inputmode: 'numeric',
    size: 'short',
    required: true,
  })}
  ${field({
    name: 'warnAfterHours',
    label: 'Warn when older than',
    form: p.form,
    unit: 'hours',
    inputmode: 'numeric',
    size: 'short',
    required: true,
    hint: 'The Today page then says so.',
  })}
  </div><button>Save</button></form>
</section>
<section class="panel" id="protection"><h2>Seal and passphrase</h2>
  <p>Every archive is sealed with the studio’s key, by which a restore can tell that nothing in it was changed. <b>Keep
    the key on paper</b>, away from this computer: a restore on another one asks for it.</p>
  <details><summary>Show the key</summary><p><code class="record-seal">${p.key}</code></p></details>
  <form method="post" action="/settings/backup/passphrase" class="stack">${formNotice(p.passphrase)}
  ${field({
    name: 'passphrase',
    label: p.isEncrypted ? 'Another passphrase for new archives' : 'Passphrase for new archives',
    form: p.passphrase,
    type: 'password',
    autocomplete: 'new-password',
    hint: 'Without it nobody can open an archive, you included: keep it on paper with the key. Empty: archives are not encrypted.',
  })}
  <p class="fine">${
    p.isEncrypted
      ? html`<b>New archives are encrypted.</b> Saved empty, the next ones are not. Those made so far stay as they are.`
      : 'Archives are not encrypted: whoever has one can read it.'
  } A passphrase is kept on this computer, since the daily backup is made when nobody is there to type it.</p>
  <button>Save</button></form>
</section>
${
  p.replica !== null &&
  html`<section class="panel" id="replica"><h2>The other site</h2><p>${replicaWords(p.replica, p.show)}</p></section>`
}
<section class="panel" id="archives"><h2>Archives</h2>
${
  p.runs.length === 0
    ? emptyState({ title: 'No backup yet', words: 'The first one is one button away.' })
    : html`<table class="plain shelf"><thead><tr><th scope="col">Made</th><th scope="col">How</th>
      <th scope="col">State</th><th scope="col" class="num">Size</th>
      <th scope="col">File</th></tr></thead><tbody>${p.runs.map(
        (r) =>
          html`<tr><th scope="row">${when(p.show, r.startedAt)}</th><td data-label="How">${HOW[r.how]}${
            r.madeByName && html`, ${r.madeByName}`
          }</td><td data-label="State">${state(r)}</td><td class="num" data-label="Size">${
            r.byteSize === null ? '—' : sizeText(r.byteSize)
          }</td><td data-label="File">${
            r.isThere && r.byteSize !== null
              ? html`<a href="/settings/backups/${r.id}/file">Download<span class="visually-hidden"> the archive
                of ${when(p.show, r.startedAt)}</span></a>`
              : '—'
          }</td></tr>`,
      )}</tbody></table>`
}</section>
<section class="panel"><h2>Getting it back</h2>
  <p>Stop the server, then run <code>npm run restore -- FILE</code>. The archive is checked whole before anything is
    touched; a studio that is there already is kept beside it. On another computer add <code>--key KEY</code>, and
    for an encrypted archive <code>--passphrase-file FILE</code>. <code>npm run verify -- FILE</code> tries an
    archive without touching anything.</p>
</section>`;
