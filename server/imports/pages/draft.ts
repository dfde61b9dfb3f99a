import { z } from 'zod';
import { draftPage } from '../../views/imports/draftPage.ts';
import { importedPage, importsPage } from '../../views/imports/importsPage.ts';
import type { FormState } from '../../views/kit/field.ts';
import type { ImportDraftRow } from '../db/tables/keeping.ts';
import type { Deps } from '../deps.ts';
import { asRefusal, invalid, notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { readInput, submitForm, typedBody } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../http/page.ts';
import { readMultipart } from '../http/upload.ts';
import { undyedOfImport } from '../matching/queries.ts';
import { actorOf } from '../people/guards.ts';
import { showOf } from '../settings/show.ts';
import { idParams } from '../typedFields.ts';
import { FIELDS, guessColumns, spectralColumns } from './fields.ts';
import { importFile, missingColumns, tryFile } from './fileImport.ts';
import {
  draftById,
  dropDraft,
  dropDraftsBefore,
  importById,
  insertDraft,
  listDrafts,
  listImports,
  namesOf,
  saveDraftChoices,
  thingsOf,
} from './queries.ts';
import { Choices, ChoicesForm, type ChoicesInput, draftParams, importKind } from './schemas.ts';
import { readSheet, type Sheet } from './sheet.ts';
import { undoImport } from './undoImport.ts';

const IMPORTS_SHOWN = 50;
const WRONG_ROWS_SHOWN = 200;
const GOOD_ROWS_SHOWN = 20;
const NAMES_SHOWN = 60;
/** A file that nobody came back to. */
const DRAFT_LIFE_MS = 2 * 86_400_000;

const KindForm = z.object({ kind: importKind });

export function pages(app: App, deps: Deps): void {
  const { db, now } = deps;

  const overview = (form: FormState = { typed: { kind: 'swatches' }, errors: {} }): Rendering => ({
    title: 'Import',
    section: 'settings',
    body: importsPage({ form, drafts: listDrafts(db), imports: listImports(db, IMPORTS_SHOWN), show: showOf(db) }),
  });

  app.get('/imports', { config: { may: 'work' } }, async (request, reply) => sendPage(request, reply, overview()));

  app.post('/imports/drafts', { config: { may: 'work' } }, async (request, reply) => {
    const { files } = await readMultipart(request);
    let draftId = '';
    // Read before the form is judged, since reading a spreadsheet takes its time and the rest does not.
    const file = files.find((f) => f.field === 'file');
    return submitForm(request, reply, {
      schema: KindForm,
      save: async ({ kind }) => {
        if (!file) throw invalid({ file: 'Choose a file: CSV or XLSX.' });
        const sheet = await readSheet(file.buffer);
        draftId = deps.newId();
        dropDraftsBefore(db, now() - DRAFT_LIFE_MS);
        insertDraft(db, {
          id: draftId,
          kind,
          fileName: file.filename.slice(0, 200) || 'a file',
          content: file.buffer,
          madeAt: now(),
          madeBy: actorOf(request).personId,
        });
        saveDraftChoices(db, draftId, JSON.stringify({ columns: guessColumns(kind, sheet.columns) }));
        return `/imports/drafts/${draftId}`;
      },
      again: overview,
    });
  });

  const found = (draft: ImportDraftRow | undefined): ImportDraftRow => {
    if (!draft) throw notFound('draft of an import');
    return draft;
  };
  const choicesOf = (draft: ImportDraftRow): ChoicesInput => Choices.parse(JSON.parse(draft.choicesJson));

  const drafted = async (
    draft: ImportDraftRow,
    sheet: Sheet,
    by: Parameters<typeof importFile>[2],
    refused = '',
  ): Promise<Rendering> => {
    const choices = choicesOf(draft);
    const missing = missingColumns(draft.kind, choices);
    const report =
      missing.length > 0
        ? null
        : await tryFile(deps, { sheet, kind: draft.kind, fileName: draft.fileName, choices }, by);
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

  app.get(
    '/imports/drafts/:draftId',
    { config: { may: 'work' }, schema: { params: draftParams } },
    async (request, reply) => {
      const draft = found(draftById(db, request.params.draftId));
      return sendPage(request, reply, await drafted(draft, await readSheet(draft.content), actorOf(request)));
    },
  );

  // Says which column is what; the page then shows what would come of it.
  app.post(
    '/imports/drafts/:draftId',
    { config: { may: 'work', audit: 'never' }, schema: { params: draftParams } },
    async (request, reply) => {
      const draft = found(draftById(db, request.params.draftId));
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
  );

  app.post(
    '/imports/drafts/:draftId/acceptance',
    { config: { may: 'work' }, schema: { params: draftParams } },
    async (request, reply) => {
      const draft = found(draftById(db, request.params.draftId));
      const sheet = await readSheet(draft.content);
      const by = actorOf(request);
      try {
        const { importId } = importFile(
          deps,
          { sheet, kind: draft.kind, fileName: draft.fileName, choices: choicesOf(draft) },
          by,
        );
        dropDraft(db, draft.id);
        request.audited.detail = `import ${importId}: ${draft.kind} from ${draft.fileName}`;
        return seeOther(reply, `/imports/${importId}`);
      } catch (error) {
        const refusal = asRefusal(error);
        if (!refusal) throw error;
        return sendPage(request, reply, {
          ...(await drafted(draft, sheet, by, refusal.message)),
          status: refusal.status,
        });
      }
    },
  );

  app.post(
    '/imports/drafts/:draftId/discarding',
    { config: { may: 'work', audit: 'never' }, schema: { params: draftParams } },
    async (request, reply) => {
      dropDraft(db, found(draftById(db, request.params.draftId)).id);
      return seeOther(reply, '/imports');
    },
  );

  const imported = (importId: number, refused = ''): Rendering => {
    const row = importById(db, importId);
    if (!row) throw notFound('import');
    const things = thingsOf(db, importId);
    const undyed = undyedOfImport(db, importId);
    const kinds = [...new Set(things.map((t) => t.thing))];
    return {
      title: `Import of ${row.fileName}`,
      section: 'settings',
      body: importedPage({
        row,
        refused,
        groups: [
          ...kinds.map((thing) => {
            const ids = things.filter((t) => t.thing === thing).map((t) => t.thingId);
            return {
              thing,
              count: ids.length,
              items: row.undoneAt === null ? namesOf(db, thing, ids.slice(0, NAMES_SHOWN)) : [],
            };
          }),
          ...(undyed.length > 0
            ? [{ thing: 'undyed', count: undyed.length, items: undyed.slice(0, NAMES_SHOWN) }]
            : []),
        ],
        show: showOf(db),
      }),
    };
  };

  app.get('/imports/:id', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) =>
    sendPage(request, reply, imported(request.params.id)),
  );

  app.post(
    '/imports/:id/undoing',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => {
      try {
        undoImport(deps, request.params.id, actorOf(request));
      } catch (error) {
        const refusal = asRefusal(error);
        if (!refusal || refusal.status === 404) throw error;
        return sendPage(request, reply, { ...imported(request.params.id, refusal.message), status: refusal.status });
      }
      return seeOther(reply, `/imports/${request.params.id}`);
    },
  );
}
