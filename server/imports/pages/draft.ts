import { draftPage } from '../../../views/imports/draft.ts';
import type { Db } from '../../db/open.ts';
import type { ImportDraftRow } from '../../db/tables/keeping.ts';
import type { Deps } from '../../deps.ts';
import { asRefusal, found } from '../../errors.ts';
import { readInput, typedBody } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { FIELDS, spectralColumns } from '../fields.ts';
import { importFile, missingColumns, tryFile } from '../fileImport.ts';
import { draftById, dropDraft, saveDraftChoices } from '../queries.ts';
import { Choices, ChoicesForm, type ChoicesInput, draftParams } from '../schemas.ts';
import { readSheet, type Sheet } from '../sheet.ts';

const WRONG_ROWS_SHOWN = 200;
const GOOD_ROWS_SHOWN = 20;

const theDraft = (db: Db, draftId: string): ImportDraftRow => found(draftById(db, draftId), 'draft of an import');

const choicesOf = (draft: ImportDraftRow): ChoicesInput => Choices.parse(JSON.parse(draft.choicesJson));

const drafted = async (
  deps: Deps,
  draft: ImportDraftRow,
  sheet: Sheet,
  by: Parameters<typeof importFile>[2],
  refused = '',
): Promise<Rendering> => {
  const choices = choicesOf(draft);
  const missing = missingColumns(draft.kind, choices);
  const report =
    missing.length > 0 ? null : await tryFile(deps, { sheet, kind: draft.kind, fileName: draft.fileName, choices }, by);
  const wrong = report?.rows.filter((r) => r.outcome === 'wrong') ?? [];
  const good = report?.rows.filter((r) => r.outcome !== 'wrong') ?? [];
  return {
    title: `Import ${draft.fileName}`,
    section: 'settings',
    body: draftPage({
      draftId: draft.id,
      kind: draft.kind,
      fileName: draft.fileName,
      columns: sheet.columns,
      rowCount: sheet.rows.length,
      notes: sheet.notes,
      sample: sheet.rows.slice(0, 3).map((r) => r.cells),
      fields: FIELDS[draft.kind],
      choices,
      spectral: draft.kind === 'swatches' ? spectralColumns(sheet.columns) : null,
      missing,
      refused,
      report: report && {
        counts: report.counts,
        wrong: wrong.slice(0, WRONG_ROWS_SHOWN),
        good: [...good.filter((r) => r.notes.length > 0), ...good.filter((r) => r.notes.length === 0)].slice(
          0,
          GOOD_ROWS_SHOWN,
        ),
        labels: Object.fromEntries(
          FIELDS[draft.kind].map((f) => [
            f.name,
            sheet.columns[choices.columns[f.name] ?? -1] ?? (f.name === 'formula' ? 'Formula' : f.label),
          ]),
        ),
      },
    }),
  };
};

export const showDraft = page({
  params: draftParams,
  show: async (deps, { params, request, reply }) => {
    const draft = theDraft(deps.db, params.draftId);
    return sendPage(request, reply, await drafted(deps, draft, await readSheet(draft.content), actorOf(request)));
  },
});

// Says which column is what; the page then shows what would come of it.
export const saveChoices = page({
  params: draftParams,
  audit: 'never',
  show: ({ db }, { params, request, reply }) => {
    const draft = theDraft(db, params.draftId);
    const typed = typedBody(request.body);
    const columns = Object.fromEntries(
      FIELDS[draft.kind].flatMap(({ name }) => {
        const column = /^\d{1,3}$/.exec(typed[`column.${name}`] ?? '')?.[0];
        return column === undefined ? [] : [[name, Number(column)]];
      }),
    );
    const choices = { ...readInput(ChoicesForm, typed), columns };
    saveDraftChoices(db, draft.id, JSON.stringify(choices));
    return seeOther(reply, `/imports/drafts/${draft.id}#rows`);
  },
});

export const acceptDraft = page({
  params: draftParams,
  show: async (deps, { params, request, reply }) => {
    const draft = theDraft(deps.db, params.draftId);
    const sheet = await readSheet(draft.content);
    const by = actorOf(request);
    try {
      const { importId } = importFile(
        deps,
        { sheet, kind: draft.kind, fileName: draft.fileName, choices: choicesOf(draft) },
        by,
      );
      dropDraft(deps.db, draft.id);
      request.audited.detail = `import ${importId}: ${draft.kind} from ${draft.fileName}`;
      return seeOther(reply, `/imports/${importId}`);
    } catch (error) {
      const refusal = asRefusal(error);
      if (!refusal) throw error;
      return sendPage(request, reply, {
        ...(await drafted(deps, draft, sheet, by, refusal.message)),
        status: refusal.status,
      });
    }
  },
});

export const discardDraft = page({
  params: draftParams,
  audit: 'never',
  show: ({ db }, { params, reply }) => {
    dropDraft(db, theDraft(db, params.draftId).id);
    return seeOther(reply, '/imports');
  },
});
