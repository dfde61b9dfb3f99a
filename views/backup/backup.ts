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
      : html`Last restored for trial, with everything as it must be: ${when(show, s.triedAt)}${s.isTrialOverdue && html` <b>(overdue)</b>`}.`
  }`;

/** Backups: the last good one, one button, the settings, the list. */
export const backupPage = (p: BackupProps): Html => html`${pageHead({
  title: 'Backup',
  crumb: { href: '/settings', label: 'Settings' },
  lead: 'One archive holds everything: the database, the photos, the recordings, and a list with a hash of each.',
})}
<section class="panel" id="now"><h2>Last good backup</h2>
  <p class="big-number">${p.state.lastGoodAt === null ? 'none yet' : when(p.show, p.state.lastGoodAt)}</p>
  ${p.state.isOld && !p.running && html`<p class="notice warn">${p.state.lastGoodAt === null ? 'The record of the studio is on one disk only.' : 'That is longer ago than the studio wants.'}</p>`}
  ${
    p.running
      ? html`<p class="notice" role="status" hx-get="/settings/backup" hx-trigger="load delay:2s" hx-target="#main" hx-swap="innerHTML">A backup is being made. You can go on working.</p>`
      : html`<form method="post" action="/settings/backups"><button class="primary big">Back up now</button></form>`
  }
  <p class="apart">${trialWords(p)}</p>
  <p class="apart">Archives go to <code>${p.folder}</code>. ${p.sameDisk ? html`<b>That is on the same disk as the studio</b>: copy them elsewhere, or set BACKUP_DIR to a folder on another disk.` : 'That is another disk than the studio’s.'}</p>
</section>
<section class="panel" id="settings"><h2>Every day</h2>
  <form method="post" action="/settings/backup" class="stack">${formNotice(p.form)}<input type="hidden" name="version" value="${p.form.typed['version'] ?? ''}">
  ${checkbox({ name: 'daily', label: 'Make a backup every day', form: p.form })}
  <div class="grid">
  ${field({ name: 'dailyAt', label: 'At', form: p.form, size: 'short', required: true, hint: 'If the computer is off at that time, it is made when it runs again.' })}
  ${field({ name: 'keepCount', label: 'Keep the newest', form: p.form, unit: 'archives', inputmode: 'numeric', size: 'short', required: true })}
  ${field({ name: 'warnAfterHours', label: 'Warn when older than', form: p.form, unit: 'hours', inputmode: 'numeric', size: 'short', required: true, hint: 'The Today page then says so.' })}
  </div><button>Save</button></form>
</section>
<section class="panel" id="archives"><h2>Archives</h2>
${
  p.runs.length === 0
    ? emptyState({ title: 'No backup yet', words: 'The first one is one button away.' })
    : html`<table class="plain shelf"><thead><tr><th scope="col">Made</th><th scope="col">How</th><th scope="col">State</th><th scope="col" class="num">Size</th><th scope="col">File</th></tr></thead><tbody>${p.runs.map(
        (r) =>
          html`<tr><th scope="row">${when(p.show, r.startedAt)}</th><td data-label="How">${HOW[r.how]}${r.madeByName && html`, ${r.madeByName}`}</td><td data-label="State">${state(r)}</td><td class="num" data-label="Size">${r.byteSize === null ? '—' : sizeText(r.byteSize)}</td><td data-label="File">${r.isThere && r.byteSize !== null ? html`<a href="/settings/backups/${r.id}/file">Download<span class="visually-hidden"> the archive of ${when(p.show, r.startedAt)}</span></a>` : '—'}</td></tr>`,
      )}</tbody></table>`
}</section>
<section class="panel"><h2>Getting it back</h2>
  <p>Stop the server, then run <code>npm run restore -- FILE</code>. The archive is checked whole before anything is touched; a studio that is there already is kept beside it. <code>npm run verify -- FILE</code> tries an archive without touching anything.</p>
</section>`;
