import { z } from 'zod';
import type { ImportRow } from '../../db/tables/keeping.ts';
import { asRefusal, found, invalid } from '../../errors.ts';
import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { today } from '../../settings/today.ts';
import { idParams } from '../../typedFields.ts';
import { importById, listImports, swatchesOfImport } from '../queries.ts';
import { runImport } from '../runImport.ts';
import { type ImportOf, ImportResource, SwatchImportBody, SwatchImportResource } from '../schemas.ts';
import { swatchLineOfBody } from '../swatchLine.ts';
import { undoImport } from '../undoImport.ts';
import { writeSwatch } from '../writeSwatch.ts';

const IMPORTS_LISTED = 200;
const MAX_BODY_BYTES = 25_000_000;

const importResource = ({ id, kind, fileName, rowCount, madeAt, undoneAt }: ImportRow): ImportOf => ({
  importId: id,
  kind,
  fileName,
  rowCount,
  madeAt,
  undoneAt,
});

export const listAllImports = operation({
  id: 'listImports',
  summary: 'What was imported, the latest first',
  answer: z.object({ imports: z.array(ImportResource) }),
  run: ({ db }) => ({ imports: listImports(db, IMPORTS_LISTED).map(importResource) }),
});

export const importSwatches = operation({
  id: 'importSwatches',
  summary: 'Import swatches with their formulas, all or none',
  description:
    'Dyes are named by their codes and must be there. A refusal names each swatch that cannot be read: fields `swatches.3.fibre` and so on, by its place in the list.',
  body: SwatchImportBody,
  answer: SwatchImportResource,
  status: 201,
  bodyLimit: MAX_BODY_BYTES,
  run: (deps, { body, request }) => {
    const todayOn = today(deps);
    const rows = body.swatches.map((swatch, i) => ({
      line: i,
      label: swatch.code ?? swatch.name,
      write: (w: Parameters<typeof writeSwatch>[0]) => writeSwatch(w, swatchLineOfBody(swatch, todayOn)),
    }));
    try {
      const { report, importId } = runImport(
        deps,
        {
          kind: 'swatches',
          fileName: body.name,
          rows,
          choices: {
            duplicates: body.duplicates === 'refuse' ? 'ask' : body.duplicates,
            missing: body.createMissing ? 'create' : 'ask',
            newFibreClass: body.newFibreClass ?? '',
            defaultDay: '',
          },
        },
        actorOf(request),
      );
      return {
        ...importResource(found(importById(deps.db, importId), 'import')),
        swatches: swatchesOfImport(deps.db, importId),
        undyedFibreIds: report.undyedFibreIds,
        skipped: report.counts.skipped,
      };
    } catch (error) {
      const refusal = asRefusal(error);
      if (refusal?.code !== 'invalidInput') throw error;
      throw invalid(
        Object.fromEntries(Object.entries(refusal.fields).map(([name, words]) => [`swatches.${name}`, words])),
        refusal.message,
      );
    }
  },
});

export const takeImportBack = operation({
  id: 'undoImport',
  summary: 'Take an import back, as long as nothing stands on it',
  params: idParams,
  answer: ImportResource,
  run: (deps, { params, request }) => importResource(undoImport(deps, params.id, actorOf(request))),
});
