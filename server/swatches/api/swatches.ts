import { z } from 'zod';
import { NextPage, pagedByNumber } from '../../http/paging.ts';
import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { readingInputOf } from '../../readings/schemas.ts';
import { idParams } from '../../typedFields.ts';
import * as rule from '../addSwatch.ts';
import { swatchResource } from '../present.ts';
import { countSwatches, listSwatches } from '../queries.ts';
import { SwatchBody, SwatchEditBody, SwatchFilter, SwatchListItem, SwatchResource } from '../schemas.ts';
import { swatchSheet } from '../sheet.ts';

const SWATCHES_AT_ONCE = 100;

export const listSomeSwatches = operation({
  id: 'listSwatches',
  summary: 'The swatch library, filtered and in order',
  query: SwatchFilter.extend(pagedByNumber(SWATCHES_AT_ONCE)),
  answer: z.object({ swatches: z.array(SwatchListItem), total: z.number().int(), next: NextPage }),
  run: ({ db }, { query: { after: from = 0, limit, ...filter } }) => {
    const total = countSwatches(db, filter);
    return {
      swatches: listSwatches(db, filter, { from, limit, total }),
      total,
      next: from + limit < total ? String(from + limit) : null,
    };
  },
});

export const getSwatch = operation({
  id: 'getSwatch',
  summary: 'One swatch, with formula and readings',
  params: idParams,
  answer: SwatchResource,
  run: ({ db }, { params }) => swatchResource(swatchSheet(db, params.id)),
});

export const addSwatch = operation({
  id: 'addSwatch',
  summary: 'Add a swatch',
  body: SwatchBody,
  answer: SwatchResource,
  status: 201,
  run: ({ db, now }, { body, request }) => {
    const input = { ...body, readings: body.readings.map(readingInputOf) };
    return swatchResource(swatchSheet(db, rule.addSwatch(db, input, actorOf(request), now()).id));
  },
});

export const saveSwatch = operation({
  id: 'saveSwatch',
  summary: 'Save what may change on a card, against the version that was read',
  params: idParams,
  body: SwatchEditBody,
  answer: SwatchResource,
  run: ({ db, now }, { params, body }) =>
    swatchResource(swatchSheet(db, rule.editSwatch(db, params.id, body, now()).id)),
});
