import type { ChoicesInput, RowReport } from '../../server/imports/schemas.ts';
import { fibreClassOptions } from '../fibres/form.ts';
import { type Html, html } from '../html.ts';
import { choice, type FormState, field, selectField } from '../kit/field.ts';
import { badge, pageHead } from '../kit/pageHead.ts';
import { KIND_NAMES } from './list.ts';

interface DraftProps {
  draftId: string;
  kind: string;
  fileName: string;
  columns: readonly string[];
  rowCount: number;
  notes: readonly string[];
  /** Cells of the first rows, to see what a column holds. */
  sample: readonly (readonly string[])[];
  fields: readonly { name: string; label: string; required?: boolean; hint?: string }[];
  choices: ChoicesInput;
  spectral: { startNm: number; stepNm: number; columns: readonly number[] } | null;
  missing: readonly string[];
  refused: string;
  report: {
    counts: Record<RowReport['outcome'], number>;
    wrong: readonly RowReport[];
    good: readonly RowReport[];
    labels: Readonly<Record<string, string>>;
  } | null;
}

const rows = (n: number): string => `${n} row${n === 1 ? '' : 's'}`;

/** Pairs of dye and amount that the file has no column for are put away: a formula rarely has twelve. */
const isSpare = (name: string, columns: Readonly<Record<string, number>>): boolean => {
  const n = Number(/^(?:dye|amount)(\d+)$/.exec(name)?.[1] ?? 0);
  return n > 4 && columns[`dye${n}`] === undefined && columns[`amount${n}`] === undefined;
};

const mapping = (p: DraftProps): Html => {
  const options = p.columns.map((name, i) => {
    const example = p.sample.map((cells) => cells[i] ?? '').find((cell) => cell !== '');
    return { value: String(i), label: example ? `${name} · ${example.slice(0, 30)}` : name };
  });
  const form: FormState = {
    errors: {},
    typed: Object.fromEntries(Object.entries(p.choices.columns).map(([name, i]) => [`column.${name}`, String(i)])),
  };
  const one = (f: DraftProps['fields'][number]): Html =>
    selectField({
      name: `column.${f.name}`,
      label: f.label,
      form,
      options,
      none: '— not in the file —',
      ...(f.required ? { required: true } : {}),
      ...(f.hint ? { hint: f.hint } : {}),
    });
  const used = p.fields.filter((f) => f.required || p.choices.columns[f.name] !== undefined);
  const unused = p.fields.filter((f) => !used.includes(f) && !isSpare(f.name, p.choices.columns));
  return html`<div class="grid">${used.map(one)}</div>
  ${
    unused.length > 0 &&
    html`<details><summary>More that a row may say</summary><div class="grid">${unused.map(one)}</div></details>`
  }`;
};

const answers = (p: DraftProps): Html => {
  const form: FormState = { errors: {}, typed: { ...p.choices, columns: '' } };
  return html`<div class="grid">
  ${choice({
    name: 'decimal',
    label: 'Decimals',
    form,
    options: [
      { value: 'auto', label: 'see by each' },
      { value: 'comma', label: '1,5' },
      { value: 'point', label: '1.5' },
    ],
    hint: 'Only where 1,500 could be read two ways.',
  })}
  ${choice({
    name: 'dates',
    label: 'Dates with strokes',
    form,
    options: [
      { value: '', label: 'see by the file' },
      { value: 'dmy', label: '31/3/2026' },
      { value: 'mdy', label: '3/31/2026' },
    ],
  })}
  ${choice({
    name: 'duplicates',
    label: 'What is there already',
    form,
    options: [
      { value: 'ask', label: 'ask' },
      { value: 'skip', label: 'leave out' },
      { value: 'rename', label: 'add under another name' },
    ],
  })}
  ${
    p.kind === 'swatches' &&
    html`${choice({
      name: 'missing',
      label: 'Goods and methods not here yet',
      form,
      options: [
        { value: 'ask', label: 'ask' },
        { value: 'create', label: 'add them' },
      ],
    })}
    ${selectField({
      name: 'newFibreClass',
      label: 'Class of new goods',
      form,
      options: fibreClassOptions,
      none: 'as the file says',
    })}
    ${field({ name: 'defaultDay', label: 'Day for rows without one', form, type: 'date', size: 'short' })}
    ${selectField({
      name: 'illuminant',
      label: 'L*a*b* under',
      form,
      options: ['D65', 'D50', 'A'].map((value) => ({ value, label: value })),
      size: 'short',
    })}
    ${selectField({
      name: 'observer',
      label: 'Observer',
      form,
      options: ['2', '10'].map((value) => ({ value, label: `${value}°` })),
      size: 'short',
    })}`
  }
  </div>`;
};

const MARK = {
  new: badge({ label: 'comes', tone: 'good' }),
  skipped: badge({ label: 'left out', tone: 'plain' }),
  wrong: badge({ label: 'cannot', tone: 'bad' }),
} as const;

const rowTable = (label: string, list: readonly RowReport[], labels: Readonly<Record<string, string>>): Html =>
  html`<div class="table-wrap" tabindex="0" role="region" aria-label="${label}"><table class="plain"><thead><tr>
    <th scope="col" class="num">Line</th><th scope="col">Row</th>
    <th scope="col">State</th><th scope="col">What to know</th></tr></thead><tbody>${list.map(
      (r) =>
        html`<tr><td class="num">${r.line}</td>
        <th scope="row">${r.label || '—'}</th><td>${MARK[r.outcome]}</td><td>${r.problems.map(
          (x) => html`<p>${x.field && html`<b>${labels[x.field] ?? x.field}:</b> `}${x.words}</p>`,
        )}${r.notes.map((n) => html`<p class="fine">${n}</p>`)}</td></tr>`,
    )}</tbody></table></div>`;

const verdict = (p: DraftProps): Html => {
  const { report } = p;
  if (!report) return html`<p class="notice warn">Say above which column is: ${p.missing.join(', ')}.</p>`;
  const { counts } = report;
  return html`<p class="big-number">${rows(counts.new)} <small>would come${
    counts.skipped > 0 && html`, ${counts.skipped} left out`
  }${counts.wrong > 0 && html`, ${counts.wrong} cannot`}</small></p>
  ${
    counts.wrong > 0
      ? html`<p class="notice warn">Nothing can be imported while a row cannot. Correct the file and send it again, or
        answer differently above.</p>${rowTable('Rows that cannot be imported', report.wrong, report.labels)}${
          counts.wrong > report.wrong.length && html`<p class="fine">and ${counts.wrong - report.wrong.length} more</p>`
        }`
      : counts.new === 0
        ? html`<p class="notice">Nothing new is in the file.</p>`
        : html`<form method="post" action="/imports/drafts/${p.draftId}/acceptance"><button
          class="primary big">Import ${rows(counts.new)}</button></form>`
  }
  ${
    report.good.length > 0 &&
    html`<h3>Rows that would come</h3>${rowTable('Rows that would come', report.good, report.labels)}${
      counts.new + counts.skipped > report.good.length &&
      html`<p class="fine">and ${counts.new + counts.skipped - report.good.length} more</p>`
    }`
  }`;
};

/** A file being looked at: which column is what, how to read it, and what would come of it row by row. */
export const draftPage = (p: DraftProps): Html => html`${pageHead({
  title: p.fileName,
  crumb: { href: '/imports', label: 'Import' },
  lead: `${KIND_NAMES[p.kind]} · ${rows(p.rowCount)} · ${p.notes.join(' · ')}`,
})}
${p.refused && html`<p class="notice bad" role="alert" tabindex="-1" data-focus>${p.refused}</p>`}
<form method="post" action="/imports/drafts/${p.draftId}" class="stack draft" novalidate>
  <fieldset class="panel"><legend>Which column is what</legend>${mapping(p)}
  ${
    p.spectral &&
    html`<p class="notice good">${p.spectral.columns.length} columns are a spectrum, ${
      p.spectral.startNm
    }–${p.spectral.startNm + (p.spectral.columns.length - 1) * p.spectral.stepNm} nm by ${
      p.spectral.stepNm
    } nm: kept with each swatch, and read as its colour where no L*a*b* is given.</p>`
  }</fieldset>
  <fieldset class="panel"><legend>How to read it</legend>${answers(p)}</fieldset>
  <button class="${p.report && p.report.counts.wrong === 0 ? '' : 'primary'}">Look again</button>
</form>
<section class="panel" id="rows"><h2>What would come of it</h2>${verdict(p)}</section>
<form method="post" action="/imports/drafts/${p.draftId}/discarding"><button class="quiet">Drop this
  file</button></form>`;
