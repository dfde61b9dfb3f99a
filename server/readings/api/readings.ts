import { z } from 'zod';
import { notFound } from '../../errors.ts';
import { operation } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { readingResource } from '../display.ts';
import { type ReadingSubject, readingsOf, subjectExists } from '../queries.ts';
import { recordReadings, withdrawReading } from '../recordReadings.ts';
import { ColourReadingResource, ReadingBody, ReadingList, readingInputOf } from '../schemas.ts';

/** What can have readings: its name in a sentence and in the id of an operation, and how its id is told. */
interface Subject {
  what: string;
  noun: string;
  of: (id: number) => ReadingSubject;
}
const swatch: Subject = { what: 'swatch', noun: 'Swatch', of: (id) => ({ swatchId: id }) };
const lot: Subject = { what: 'lot', noun: 'Lot', of: (id) => ({ lotId: id }) };
const orderLine: Subject = { what: 'order line', noun: 'OrderLine', of: (id) => ({ orderLineId: id }) };

const listing = ({ what, noun, of }: Subject) =>
  operation({
    id: `list${noun}Readings`,
    summary: `Every colour reading of ${what === 'order line' ? 'an' : 'a'} ${what}, the withdrawn ones too`,
    params: idParams,
    answer: ReadingList,
    run: ({ db }, { params }) => {
      const subject = of(params.id);
      if (!subjectExists(db, subject)) throw notFound(what);
      return { readings: readingsOf(db, subject).map(({ readByName: _name, ...row }) => readingResource(row)) };
    },
  });

const recording = ({ what, noun, of }: Subject) =>
  operation({
    id: `record${noun}Readings`,
    summary: `Record the colours of one look at ${what === 'order line' ? 'an' : 'a'} ${what}`,
    description: 'One colour of even goods; several with their shares of the area for variegated goods.',
    params: idParams,
    body: z.object({ readings: z.array(ReadingBody).min(1).max(12) }),
    answer: ReadingList,
    status: 201,
    run: ({ db, now }, { params, body, request }) => {
      const inputs = body.readings.map(readingInputOf);
      return { readings: recordReadings(db, of(params.id), inputs, actorOf(request), now()).map(readingResource) };
    },
  });

export const listSwatchReadings = listing(swatch);
export const recordSwatchReadings = recording(swatch);
export const listLotReadings = listing(lot);
export const recordLotReadings = recording(lot);
export const listOrderLineReadings = listing(orderLine);
export const recordOrderLineReadings = recording(orderLine);

export const withdraw = operation({
  id: 'withdrawReading',
  summary: 'Withdraw a reading; it stays in the record, struck out',
  params: idParams,
  answer: ColourReadingResource,
  run: ({ db, now }, { params }) => readingResource(withdrawReading(db, params.id, now())),
});
