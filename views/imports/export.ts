import { type Html, html } from '../html.ts';
import { pageHead } from '../kit/pageHead.ts';

/** Everything in open formats. */
export const exportPage = (): Html => html`${pageHead({
  title: 'Export',
  crumb: { href: '/settings', label: 'Settings' },
  lead: 'Everything of the studio in open formats, to read anywhere or to leave with. Nothing changes here.',
  actions: html`<a class="button" href="/imports">Import</a>`,
})}
<section class="panel"><h2>Everything</h2>
  <p>One zip file: a CSV a table with a description of every column, the same as JSON, all photos and recordings, and
    the library as files that the Import page reads again.</p>
  <p><a class="button primary big" href="/settings/export/everything.zip">Download everything</a></p>
  <p>A large studio takes a few minutes. It is one moment’s view, whatever is logged meanwhile.</p>
</section>
<section class="panel"><h2>The tables alone</h2>
  <p>For scripts: one JSON document, a row a line.</p>
  <p><a class="button" href="/settings/export/everything.json">Download the tables as JSON</a></p>
</section>
<section class="panel"><h2>What else leaves by itself</h2>
  <p>Lots and costs of any range of days: <a href="/history">Batch history</a>. An archive to come back from: <a
    href="/settings/backup">Backup</a>. Export files hold no passphrases, no sign-ins and no secrets of API tokens.</p>
</section>`;
