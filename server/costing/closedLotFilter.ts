import type { Db } from '../db/open.ts';
import { demandNone, type FieldErrors } from '../errors.ts';
import { instantsOfDay } from '../settings/days.ts';
import { type ClosedLotFilter, EVERYTHING, historyChoices, orderIdOf } from './queries.ts';
import type { LotsAsked } from './schemas.ts';

const DAY_MS = 24 * 3_600_000;

/** Days of the closings and the order by its number; what cannot be found is an error beside its field. */
export function lotsAskedFor(db: Db, input: LotsAsked): { filter: ClosedLotFilter; errors: FieldErrors } {
  const orderId = input.order === '' ? null : orderIdOf(db, input.order);
  return {
    filter: {
      // The day of a closing is that of the zone of then, whatever the zone is now: a day more on either side holds them all.
      startAt: input.from === null ? EVERYTHING.startAt : instantsOfDay(input.from, 'utc').startAt - DAY_MS,
      endAt: input.to === null ? EVERYTHING.endAt : instantsOfDay(input.to, 'utc').endAt + DAY_MS,
      fromOn: input.from,
      toOn: input.to,
      orderId,
      customerId: input.customerId,
      methodId: input.methodId,
      fibreId: input.fibreId,
    },
    errors: input.order !== '' && orderId === null ? { order: `There is no order ${input.order}.` } : {},
  };
}

export function filterOf(db: Db, input: LotsAsked): ClosedLotFilter {
  const { filter, errors } = lotsAskedFor(db, input);
  demandNone(errors);
  return filter;
}

/** Customers, methods and fibres that closed lots were for, made by and made of, as a filter offers them. */
export function historyOptions(db: Db) {
  const { customers, methods, fibres } = historyChoices(db);
  const options = (list: { id: number; name: string }[]) =>
    list.map(({ id, name }) => ({ value: String(id), label: name }));
  return { customers: options(customers), methods: options(methods), fibres: options(fibres) };
}
