import { z } from 'zod';
import * as show from '../../../views/kit/show.ts';
import { tempCOf } from '../../calc/quantity.ts';
import { readInput, typedBody } from '../../http/forms.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { atBench, saidDuring } from '../benchDoor.ts';
import { recordDeviation } from '../deviations.ts';
import { recordEntry } from '../recordEntry.ts';
import { DIDS, entryKind } from '../schemas.ts';

const Entry = z.object({
  kind: entryKind,
  text: z.string().default(''),
  temp: z.string().default(''),
  label: z.string().max(80).default(''),
});
const Deviation = z.object({
  instead: z.string({ error: 'Choose what of the plan it was instead of.' }),
  did: z.enum(DIDS, { error: 'Choose what you did.' }),
  text: z.string().default(''),
});

/** Writes a note, a deviation, a temperature or a field into the log. */
export const logAtBench = page({
  params: idParams,
  show(deps, { params: { id: lotId }, request, reply }) {
    const typed = typedBody(request.body);
    if (typed['did'] !== undefined)
      return atBench(deps, request, reply, { lotId, form: 'deviation', typed }, () =>
        recordDeviation(
          deps,
          { lotId, ...readInput(Deviation, typed), ...saidDuring(deps, lotId, typed) },
          actorOf(request),
        ),
      );
    const form = typed['kind'] === 'temperature' ? 'temperature' : 'log';
    return atBench(deps, request, reply, { lotId, form, typed }, () => {
      const { kind, text, temp, label } = readInput(Entry, typed);
      const base = { lotId, kind, photoId: null, ...saidDuring(deps, lotId, typed) };
      if (kind === 'temperature') {
        const s = showOf(deps.db);
        const tempC = tempCOf({ text: temp, scale: s.units === 'us' ? 'F' : 'C', field: 'temp' });
        return recordEntry(deps, { ...base, text: show.temperature(s, tempC), value: { tempC } }, actorOf(request));
      }
      const value = kind === 'field' && text.trim() !== '' ? { value: { label } } : {};
      return recordEntry(deps, { ...base, text, ...value }, actorOf(request));
    });
  },
});
