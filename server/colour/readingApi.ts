import { z } from 'zod';
import type { Deps } from '../deps.ts';
import { notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { actorOf, type May } from '../people/guards.ts';
import { idParams } from '../typedFields.ts';
import { readingResource } from './display.ts';
import { type ReadingSubject, readingsOf, subjectExists } from './queries.ts';
import { recordReadings, withdrawReading } from './readings.ts';
import { ColourReadingResource, ReadingBody, readingInputOf } from './schemas.ts';

/** What can have readings: the address of each, and its name in a sentence. */
const SUBJECTS: readonly { path: string; what: string; noun: string; may: May; of: (id: number) => ReadingSubject }[] =
  [
    { path: 'swatches', what: 'swatch', noun: 'Swatch', may: 'work', of: (id) => ({ swatchId: id }) },
    { path: 'lots', what: 'lot', noun: 'Lot', may: 'log', of: (id) => ({ lotId: id }) },
    { path: 'order-lines', what: 'order line', noun: 'OrderLine', may: 'work', of: (id) => ({ orderLineId: id }) },
  ];

const ReadingList = z.object({ readings: z.array(ColourReadingResource) });

export function readingApi(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['Colour readings'];
  for (const { path, what, noun, may, of } of SUBJECTS) {
    app.get(
      `/${path}/:id/readings`,
      {
        config: { may: 'look' },
        schema: {
          operationId: `list${noun}Readings`,
          tags,
          summary: `Every colour reading of a ${what}, the withdrawn ones too`,
          params: idParams,
          response: { 200: ReadingList },
        },
      },
      async (request) => {
        const subject = of(request.params.id);
        if (!subjectExists(db, subject)) throw notFound(what);
        return { readings: readingsOf(db, subject).map(({ readByName: _name, ...row }) => readingResource(row)) };
      },
    );

    app.post(
      `/${path}/:id/readings`,
      {
        config: { may },
        schema: {
          operationId: `record${noun}Readings`,
          tags,
          summary: `Record the colours of one look at a ${what}`,
          description: 'One colour of even goods; several with their shares of the area for variegated goods.',
          params: idParams,
          body: z.object({ readings: z.array(ReadingBody).min(1).max(12) }),
          response: { 201: ReadingList },
        },
      },
      async (request, reply) => {
        const inputs = request.body.readings.map(readingInputOf);
        const rows = recordReadings(db, of(request.params.id), inputs, actorOf(request), deps.now());
        reply.code(201);
        return { readings: rows.map(readingResource) };
      },
    );
  }

  app.post(
    '/readings/:id/withdrawal',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'withdrawReading',
        tags,
        summary: 'Withdraw a reading; it stays in the record, struck out',
        params: idParams,
        response: { 200: ColourReadingResource },
      },
    },
    async (request) => readingResource(withdrawReading(db, request.params.id, deps.now())),
  );
}
