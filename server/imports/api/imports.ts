import { z } from 'zod';
import type { ImportRow } from '../db/tables/keeping.ts';
import type { Deps } from '../deps.ts';
import { asRefusal, invalid } from '../errors.ts';
import type { App } from '../http/app.ts';
import { actorOf } from '../people/guards.ts';
import { today } from '../settings/today.ts';
import { idParams } from '../typedFields.ts';
import { importById, listImports, swatchesOfImport } from './queries.ts';
import { runImport } from './runImport.ts';
import { ImportResource, SwatchImportBody, SwatchImportResource } from './schemas.ts';
import { swatchLineOfBody } from './swatchLine.ts';
import { undoImport } from './undoImport.ts';
import { writeSwatch } from './writeSwatch.ts';

const IMPORTS_LISTED = 200;
const MAX_BODY_BYTES = 25_000_000;

const resource = ({ id, kind, fileName, rowCount, madeAt, undoneAt }: ImportRow) => ({
  importId: id,
  kind,
  fileName,
  rowCount,
  madeAt,
  undoneAt,
});

export function api(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['Imports'];

  app.get(
    '/imports',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listImports',
        tags,
        summary: 'What was imported, the latest first',
        response: { 200: z.object({ imports: z.array(ImportResource) }) },
      },
    },
    async () => ({ imports: listImports(db, IMPORTS_LISTED).map(resource) }),
  );

  app.post(
    '/imports/swatches',
    {
      config: { may: 'work' },
      bodyLimit: MAX_BODY_BYTES,
      schema: {
        operationId: 'importSwatches',
        tags,
        summary: 'Import swatches with their formulas, all or none',
        description:
          'Dyes are named by their codes and must be there. A refusal names each swatch that cannot be read: fields `swatches.3.fibre` and so on, by its place in the list.',
        body: SwatchImportBody,
        response: { 201: SwatchImportResource },
      },
    },
    async (request, reply) => {
      const { body } = request;
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
        reply.code(201);
        return {
          ...resource(importById(db, importId) as ImportRow),
          swatches: swatchesOfImport(db, importId),
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
  );

  app.post(
    '/imports/:id/undoing',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'undoImport',
        tags,
        summary: 'Take an import back, as long as nothing stands on it',
        params: idParams,
        response: { 200: ImportResource },
      },
    },
    async (request) => resource(undoImport(deps, request.params.id, actorOf(request))),
  );
}
