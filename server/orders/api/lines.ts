import { operation } from '../../http/routes.ts';
import { idParams, versioned } from '../../typedFields.ts';
import { noteMixing } from '../mixing.ts';
import { addLine, removeLine, saveLine } from '../orderLines.ts';
import { orderLineResource, orderResource } from '../present.ts';
import { MixingBody, OrderLineBody, OrderLineResource, OrderResource } from '../schemas.ts';

export const addOrderLine = operation({
  id: 'addOrderLine',
  summary: 'Add a line to an order',
  params: idParams,
  body: OrderLineBody,
  answer: OrderLineResource,
  status: 201,
  run: ({ db }, { params, body }) => orderLineResource(db, addLine(db, params.id, body).id),
});

export const getOrderLine = operation({
  id: 'getOrderLine',
  summary: 'One order line',
  params: idParams,
  answer: OrderLineResource,
  run: ({ db }, { params }) => orderLineResource(db, params.id),
});

export const saveOrderLine = operation({
  id: 'saveOrderLine',
  summary: 'Save a line against the version of its order that was read',
  params: idParams,
  body: versioned(OrderLineBody).meta({ id: 'ChangedOrderLine' }),
  answer: OrderLineResource,
  run: ({ db }, { params, body: { version, ...input } }) =>
    orderLineResource(db, saveLine(db, params.id, input, version).id),
});

export const noteLineMixing = operation({
  id: 'noteMixing',
  summary: 'Note how goods of several lots go together on a line',
  params: idParams,
  body: MixingBody,
  answer: OrderLineResource,
  run: ({ db }, { params, body }) => orderLineResource(db, noteMixing(db, params.id, body.note).id),
});

export const removeOrderLine = operation({
  id: 'removeOrderLine',
  summary: 'Take a line out of its order, while no lot serves it',
  params: idParams,
  answer: OrderResource,
  run: ({ db }, { params }) => orderResource(db, removeLine(db, params.id).id),
});
