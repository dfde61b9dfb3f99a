import { operation } from '../../http/routes.ts';
import { occurrenceOf } from '../../lots/occurrence.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { recordDeviation } from '../deviations.ts';
import { recorded } from '../present.ts';
import { recordEntry } from '../recordEntry.ts';
import { DeviationBody, EntryBody, Recorded, VoidingBody } from '../schemas.ts';
import { voidEntry } from '../voidEntry.ts';

export const addLogEntry = operation({
  id: 'recordLogEntry',
  summary: 'Write a note, deviation, temperature or field into the log',
  params: idParams,
  body: EntryBody,
  answer: Recorded,
  status: 201,
  run(deps, { params, body: { tempC, label, ...body }, request }) {
    const value =
      body.kind === 'temperature' && tempC !== undefined
        ? { tempC }
        : body.kind === 'field' && label !== undefined
          ? { label }
          : undefined;
    const sent = { lotId: params.id, ...body, photoId: null, ...(value && { value }), ...occurrenceOf(deps, body) };
    return recorded(deps, recordEntry(deps, sent, actorOf(request)));
  },
});

export const addDeviation = operation({
  id: 'recordDeviation',
  summary: 'Write “instead of … I did …” into the log',
  params: idParams,
  body: DeviationBody,
  answer: Recorded,
  status: 201,
  run: (deps, { params, body, request }) =>
    recorded(deps, recordDeviation(deps, { lotId: params.id, ...body, ...occurrenceOf(deps, body) }, actorOf(request))),
});

export const voidLogEntry = operation({
  id: 'voidLogEntry',
  summary: 'Void a log entry with a reason; stock is reversed',
  params: idParams,
  body: VoidingBody,
  answer: Recorded,
  status: 201,
  run: (deps, { params, body, request }) =>
    recorded(deps, voidEntry(deps, { entryId: params.id, ...body, ...occurrenceOf(deps, body) }, actorOf(request))),
});
