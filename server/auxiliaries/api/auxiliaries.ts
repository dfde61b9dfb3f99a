import { z } from 'zod';
import { operation } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { listAuxiliaries, theAuxiliary } from '../present.ts';
import { insertAuxiliary } from '../queries.ts';
import * as rule from '../saveAuxiliary.ts';
import { AuxiliaryBody, AuxiliaryChange, AuxiliaryResource } from '../schemas.ts';

export const listAllAuxiliaries = operation({
  id: 'listAuxiliaries',
  summary: 'Every auxiliary in use, with what is on hand',
  answer: z.object({ auxiliaries: z.array(AuxiliaryResource) }),
  run: ({ db }) => ({ auxiliaries: listAuxiliaries(db) }),
});

export const getAuxiliary = operation({
  id: 'getAuxiliary',
  summary: 'One auxiliary',
  params: idParams,
  answer: AuxiliaryResource,
  run: ({ db }, { params }) => theAuxiliary(db, params.id),
});

export const addAuxiliary = operation({
  id: 'addAuxiliary',
  summary: 'Add an auxiliary',
  body: AuxiliaryBody,
  answer: AuxiliaryResource,
  status: 201,
  run: ({ db }, { body }) => theAuxiliary(db, insertAuxiliary(db, body).id),
});

export const saveAuxiliary = operation({
  id: 'saveAuxiliary',
  summary: 'Save an auxiliary against the version that was read',
  params: idParams,
  body: AuxiliaryChange,
  answer: AuxiliaryResource,
  run: ({ db }, { params, body: { version, ...input } }) => {
    const auxiliary = theAuxiliary(db, params.id);
    rule.saveAuxiliary(db, auxiliary, input, version);
    return theAuxiliary(db, auxiliary.auxiliaryId);
  },
});
