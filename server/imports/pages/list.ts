import { z } from 'zod';
import { importsPage } from '../../../views/imports/list.ts';
import type { FormState } from '../../../views/kit/field.ts';
import type { Db } from '../../db/open.ts';
import { invalid } from '../../errors.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { readMultipart } from '../../http/upload.ts';
import { actorOf } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { guessColumns } from '../fields.ts';
import { dropDraftsBefore, insertDraft, listDrafts, listImports, saveDraftChoices } from '../queries.ts';
import { importKind } from '../schemas.ts';
import { readSheet } from '../sheet.ts';

const IMPORTS_SHOWN = 50;

/** A file that nobody came back to. */
const DRAFT_LIFE_MS = 2 * 86_400_000;

const KindForm = z.object({ kind: importKind });

const overview = (db: Db, form: FormState = { typed: { kind: 'swatches' }, errors: {} }): Rendering => ({
  title: 'Import',
  section: 'settings',
  body: importsPage({ form, drafts: listDrafts(db), imports: listImports(db, IMPORTS_SHOWN), show: showOf(db) }),
});

export const showImports = page({
  show: ({ db }, { request, reply }) => sendPage(request, reply, overview(db)),
});

export const addDraft = page({
  show: async (deps, { request, reply }) => {
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
        dropDraftsBefore(deps.db, deps.now() - DRAFT_LIFE_MS);
        insertDraft(deps.db, {
          id: draftId,
          kind,
          fileName: file.filename.slice(0, 200) || 'a file',
          content: file.buffer,
          madeAt: deps.now(),
          madeBy: actorOf(request).personId,
        });
        saveDraftChoices(deps.db, draftId, JSON.stringify({ columns: guessColumns(kind, sheet.columns) }));
        return `/imports/drafts/${draftId}`;
      },
      again: (form) => overview(deps.db, form),
    });
  },
});
