import { z } from 'zod';
import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { NextPage, pagedByNumber } from '../http/paging.ts';
import { actorOf } from '../people/guards.ts';
import { readingResource } from '../readings/display.ts';
import { readingInputOf } from '../readings/schemas.ts';
import { idParams } from '../typedFields.ts';
import { addSwatch, editSwatch } from './addSwatch.ts';
import { neighboursOf } from './neighbours.ts';
import { countSwatches, listSwatches } from './queries.ts';
import { repeatOf } from './repeat.ts';
import {
  RepeatQuery,
  SwatchBody,
  SwatchEditBody,
  SwatchFilter,
  SwatchListItem,
  SwatchResource,
  WeighUpResource,
} from './schemas.ts';
import { type SwatchSheet, swatchSheet } from './sheet.ts';

const SWATCHES_AT_ONCE = 100;

const resource = (sheet: SwatchSheet) => {
  const { swatch, tile, formula } = sheet;
  return {
    ...tile,
    recipeId: formula.recipe.id,
    revisionNumber: formula.revision.number,
    namesNow: sheet.namesNow,
    correctedDepthPpm: sheet.correctedDepthPpm,
    components: sheet.components.map(({ shownHex: _hex, nowCalled: _now, ...c }) => c),
    lotId: swatch.lotId,
    dryMassMg: swatch.dryMassMg,
    madeBy: { personId: swatch.madeBy, name: sheet.madeByName },
    cardPlace: swatch.cardPlace,
    note: swatch.note,
    archived: swatch.archivedAt !== null,
    version: swatch.version,
    stockLots: sheet.containers.map(({ stockLotId, code }) => ({ stockLotId, code })),
    readings: sheet.readings.map(({ readByName: _name, text: _text, ...row }) => readingResource(row)),
  };
};

export function api(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['Swatches'];

  app.get(
    '/swatches',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listSwatches',
        tags,
        summary: 'The swatch library, filtered and in order',
        querystring: SwatchFilter.extend(pagedByNumber(SWATCHES_AT_ONCE)),
        response: {
          200: z.object({
            swatches: z.array(SwatchListItem),
            total: z.number().int(),
            next: NextPage,
          }),
        },
      },
    },
    async (request) => {
      const { after: from = 0, limit, ...filter } = request.query;
      const total = countSwatches(db, filter);
      return {
        swatches: listSwatches(db, filter, { from, limit, total }),
        total,
        next: from + limit < total ? String(from + limit) : null,
      };
    },
  );

  app.get(
    '/swatches/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getSwatch',
        tags,
        summary: 'One swatch, with formula and readings',
        params: idParams,
        response: { 200: SwatchResource },
      },
    },
    async (request) => resource(swatchSheet(db, request.params.id)),
  );

  app.post(
    '/swatches',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'addSwatch',
        tags,
        summary: 'Add a swatch',
        body: SwatchBody,
        response: { 201: SwatchResource },
      },
    },
    async (request, reply) => {
      const input = { ...request.body, readings: request.body.readings.map(readingInputOf) };
      const { id } = addSwatch(db, input, actorOf(request), deps.now());
      reply.code(201);
      return resource(swatchSheet(db, id));
    },
  );

  app.put(
    '/swatches/:id',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'saveSwatch',
        tags,
        summary: 'Save what may change on a card, against the version that was read',
        params: idParams,
        body: SwatchEditBody,
        response: { 200: SwatchResource },
      },
    },
    async (request) => resource(swatchSheet(db, editSwatch(db, request.params.id, request.body, deps.now()).id)),
  );

  app.get(
    '/swatches/:id/neighbours',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getSwatchNeighbours',
        tags,
        summary: 'The same recipe elsewhere, and what is near in colour',
        params: idParams,
        response: {
          200: z.object({
            sameRecipe: z.array(SwatchListItem),
            near: z.array(z.object({ swatch: SwatchListItem, deltaE2000: z.number() })),
          }),
        },
      },
    },
    async (request) => {
      const { swatch, tile } = swatchSheet(db, request.params.id);
      const { ladder, near } = neighboursOf(db, swatch, tile.lab);
      return {
        sameRecipe: ladder,
        near: near.map((n) => ({ swatch: n.tile, deltaE2000: n.deltaE2000 })),
      };
    },
  );

  app.get(
    '/swatches/:id/weigh-up',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'scaleSwatch',
        tags,
        summary: 'What to weigh to repeat it on a mass of goods',
        params: idParams,
        querystring: RepeatQuery,
        response: { 200: WeighUpResource },
      },
    },
    async (request) => {
      const { formula, method, swatch } = swatchSheet(db, request.params.id);
      const { massMg, fibreId = swatch.fibreId, depthPpm = swatch.depthPpm } = request.query;
      return repeatOf(db, { revision: formula, method }, { massMg, fibreId, depthPpm });
    },
  );
}
