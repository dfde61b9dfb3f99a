import { z } from 'zod';
import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { savedExportResource } from '../present.ts';
import { listSavedExports } from '../queries.ts';
import { changeExport, forgetExport, saveExport } from '../savedExports.ts';
import { SavedExportBody, SavedExportResource } from '../schemas.ts';

export const listSaved = operation({
  id: 'listSavedExports',
  summary: 'Saved exports',
  answer: z.object({ savedExports: z.array(SavedExportResource) }),
  run: ({ db }) => ({ savedExports: listSavedExports(db).map((row) => savedExportResource(db, row)) }),
});

export const addSavedExport = operation({
  id: 'addSavedExport',
  summary: 'Save an export',
  body: SavedExportBody,
  answer: SavedExportResource,
  status: 201,
  run: (deps, { body, request }) => {
    return savedExportResource(deps.db, saveExport(deps, body, actorOf(request)));
  },
});

export const saveSavedExport = operation({
  id: 'saveSavedExport',
  summary: 'Change a saved export, against the version that was read',
  params: idParams,
  body: z.object({ export: SavedExportBody, version: z.number().int() }).meta({ id: 'SavedExportChange' }),
  answer: SavedExportResource,
  run: (deps, { params, body }) =>
    savedExportResource(deps.db, changeExport(deps, params.id, body.export, body.version)),
});

export const removeSavedExport = operation({
  id: 'deleteSavedExport',
  summary: 'Forget a saved export',
  params: idParams,
  run: (deps, { params, reply }) => {
    forgetExport(deps, params.id);
    return reply.code(204).send();
  },
});
