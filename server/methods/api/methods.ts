import { z } from 'zod';
import { archivingOperations } from '../../http/archiving.ts';
import { operation } from '../../http/routes.ts';
import { idParams, versioned } from '../../typedFields.ts';
import { methodInput, methodResource, methodsInUse, theMethod } from '../present.ts';
import { createMethod, saveMethod as save, setMethodArchived } from '../saveMethod.ts';
import { MethodBody, MethodListed, MethodResource } from '../schemas.ts';

export const listAllMethods = operation({
  id: 'listMethods',
  summary: 'Every method in use',
  answer: z.object({ methods: z.array(MethodListed) }),
  run: ({ db }) => ({ methods: methodsInUse(db) }),
});

export const getMethod = operation({
  id: 'getMethod',
  summary: 'One method, whole',
  params: idParams,
  answer: MethodResource,
  run: ({ db }, { params }) => methodResource(theMethod(db, params.id)),
});

export const addMethod = operation({
  id: 'addMethod',
  summary: 'Write a method',
  body: MethodBody,
  answer: MethodResource,
  status: 201,
  run: ({ db }, { body }) => methodResource(theMethod(db, createMethod(db, body).id)),
});

export const saveMethod = operation({
  id: 'saveMethod',
  summary: 'Save a method as a whole against the version that was read',
  params: idParams,
  body: versioned(MethodBody).meta({ id: 'ChangedMethod' }),
  answer: MethodResource,
  run: ({ db }, { params, body: { version, ...input } }) =>
    methodResource(theMethod(db, save(db, params.id, input, version).id)),
});

export const copyMethod = operation({
  id: 'copyMethod',
  summary: 'Start a method from a copy of another',
  params: idParams,
  body: z.object({ name: z.string().trim().min(1).max(80) }).meta({ id: 'NewMethodCopy' }),
  answer: MethodResource,
  status: 201,
  run: ({ db }, { params, body: { name } }) => {
    const from = methodInput(theMethod(db, params.id));
    return methodResource(theMethod(db, createMethod(db, { ...from, name }).id));
  },
});

export const { archive: archiveMethod, restore: restoreMethod } = archivingOperations({
  noun: 'method',
  answer: MethodResource,
  setArchived: setMethodArchived,
  resource: (db, id) => methodResource(theMethod(db, id)),
});
