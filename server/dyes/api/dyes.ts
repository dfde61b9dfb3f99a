import { z } from 'zod';
import { stale } from '../../errors.ts';
import { operation } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { theDye, usesOfDye } from '../present.ts';
import { insertDye, listDyes, updateDye } from '../queries.ts';
import { DyeBody, DyeChange, DyeResource, DyeUses } from '../schemas.ts';

export const listAllDyes = operation({
  id: 'listDyes',
  summary: 'Every dye in use, with what is on hand',
  answer: z.object({ dyes: z.array(DyeResource) }),
  run: ({ db }) => ({ dyes: listDyes(db) }),
});

export const getDye = operation({
  id: 'getDye',
  summary: 'One dye',
  params: idParams,
  answer: DyeResource,
  run: ({ db }, { params }) => theDye(db, params.id),
});

export const getDyeUses = operation({
  id: 'getDyeUses',
  summary: 'Recipes and newest swatches that use a dye',
  params: idParams,
  answer: DyeUses,
  run: ({ db }, { params }) => usesOfDye(db, theDye(db, params.id).dyeId),
});

export const addDye = operation({
  id: 'addDye',
  summary: 'Add a dye',
  body: DyeBody,
  answer: DyeResource,
  status: 201,
  run: ({ db }, { body }) => theDye(db, insertDye(db, body).id),
});

export const saveDye = operation({
  id: 'saveDye',
  summary: 'Save a dye against the version that was read',
  params: idParams,
  body: DyeChange,
  answer: DyeResource,
  run: ({ db }, { params, body: { version, ...input } }) => {
    const { dyeId } = theDye(db, params.id);
    if (!updateDye(db, dyeId, input, version)) throw stale('dye');
    return theDye(db, dyeId);
  },
});
