import { z } from 'zod';
import { archivingOperations } from '../../http/archiving.ts';
import { operation } from '../../http/routes.ts';
import { idParams, versioned } from '../../typedFields.ts';
import * as rule from '../customers.ts';
import { customerResource } from '../present.ts';
import { insertCustomer, listCustomers } from '../queries.ts';
import { CustomerBody, CustomerResource } from '../schemas.ts';

export const listAllCustomers = operation({
  id: 'listCustomers',
  summary: 'Every customer who is not archived',
  answer: z.object({ customers: z.array(CustomerResource) }),
  run: ({ db }) => ({ customers: listCustomers(db).map(customerResource) }),
});

export const getCustomer = operation({
  id: 'getCustomer',
  summary: 'One customer',
  params: idParams,
  answer: CustomerResource,
  run: ({ db }, { params }) => customerResource(rule.theCustomer(db, params.id)),
});

export const addCustomer = operation({
  id: 'addCustomer',
  summary: 'Add a customer',
  body: CustomerBody,
  answer: CustomerResource,
  status: 201,
  run: ({ db }, { body }) => customerResource(insertCustomer(db, body)),
});

export const saveCustomer = operation({
  id: 'saveCustomer',
  summary: 'Save a customer against the version that was read',
  params: idParams,
  body: versioned(CustomerBody).meta({ id: 'ChangedCustomer' }),
  answer: CustomerResource,
  run: ({ db }, { params, body: { version, ...input } }) =>
    customerResource(rule.saveCustomer(db, params.id, input, version)),
});

export const { archive: archiveCustomer, restore: restoreCustomer } = archivingOperations({
  noun: 'customer',
  answer: CustomerResource,
  setArchived: rule.setCustomerArchived,
  resource: (db, id) => customerResource(rule.theCustomer(db, id)),
});
