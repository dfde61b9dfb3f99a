import { z } from 'zod';
import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { revisionResource, theRevision } from '../present.ts';
import { addRevision } from '../revisions.ts';
import { scaledFor } from '../scaled.ts';
import { ChangedFormulaBody, RevisionResource, ScaledResource } from '../schemas.ts';

export const reviseRecipe = operation({
  id: 'reviseRecipe',
  summary: 'Change a formula: a new revision; the old ones stand',
  params: idParams,
  body: ChangedFormulaBody,
  answer: RevisionResource,
  status: 201,
  run: ({ db, now }, { params, body: { fromRevision, ...formula }, request }) => {
    const made = addRevision(db, params.id, formula, actorOf(request), now(), undefined, fromRevision);
    return revisionResource(made, theRevision(db, made.id).components);
  },
});

export const getRevision = operation({
  id: 'getRecipeRevision',
  summary: 'One revision',
  params: idParams,
  answer: RevisionResource,
  run: ({ db }, { params }) => {
    const { revision, components } = theRevision(db, params.id);
    return revisionResource(revision, components);
  },
});

export const scaleRevision = operation({
  id: 'scaleRecipeRevision',
  summary: 'Dye for so much goods, rounded to the default scale; standard strength, no loss',
  params: idParams,
  query: z.object({ goodsDryMassMg: z.coerce.number().int().positive() }),
  answer: ScaledResource,
  run: ({ db }, { params, query }) => scaledFor(db, theRevision(db, params.id), query.goodsDryMassMg),
});
