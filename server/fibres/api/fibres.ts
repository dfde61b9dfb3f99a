import { z } from 'zod';
import { found, stale } from '../../errors.ts';
import { operation } from '../../http/routes.ts';
import { idParams, versioned } from '../../typedFields.ts';
import { fibreResource } from '../present.ts';
import { fibreById, insertFibre, listFibres, updateFibre } from '../queries.ts';
import { FibreBody, FibreResource } from '../schemas.ts';

export const listAllFibres = operation({
  id: 'listFibres',
  summary: 'Every fibre in use',
  answer: z.object({ fibres: z.array(FibreResource) }),
  run: ({ db }) => ({ fibres: listFibres(db).map(fibreResource) }),
});

export const getFibre = operation({
  id: 'getFibre',
  summary: 'One fibre',
  params: idParams,
  answer: FibreResource,
  run: ({ db }, { params }) => fibreResource(found(fibreById(db, params.id), 'fibre')),
});

export const addFibre = operation({
  id: 'addFibre',
  summary: 'Add a fibre',
  body: FibreBody,
  answer: FibreResource,
  status: 201,
  run: ({ db }, { body }) => fibreResource(insertFibre(db, body)),
});

export const saveFibre = operation({
  id: 'saveFibre',
  summary: 'Save a fibre against the version that was read',
  params: idParams,
  body: versioned(FibreBody),
  answer: FibreResource,
  run: ({ db }, { params, body: { version, ...input } }) => {
    const { id } = found(fibreById(db, params.id), 'fibre');
    const saved = updateFibre(db, id, input, version);
    if (!saved) throw stale('fibre');
    return fibreResource(saved);
  },
});
