import { demandNone, invalid } from '../../errors.ts';
import { submitForm, typedRows } from '../../http/forms.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { recordReadings } from '../../readings/recordReadings.ts';
import { typedReadings } from '../../readings/schemas.ts';
import { ReadingForm } from '../../swatches/schemas.ts';
import { idParams } from '../../typedFields.ts';
import { lotRendering, mayDo } from './lot.ts';

/** Keeps the colour that came out. */
export const keepReadings = page({
  params: idParams,
  show: (deps, { params, request, reply }) =>
    submitForm(request, reply, {
      schema: ReadingForm,
      shape: (typed) => ({ ...typed, readings: typedRows(typed, ['colour', 'share']) }),
      save: (input) => {
        const { inputs, errors } = typedReadings(input);
        if (inputs.length === 0 && Object.keys(errors).length === 0)
          throw invalid({ 'colour.0': 'Type a colour first.' });
        demandNone(errors);
        recordReadings(deps.db, { lotId: params.id }, inputs, actorOf(request), deps.now());
        return `/lots/${params.id}#colour`;
      },
      again: (form) => lotRendering(deps, params.id, mayDo(request), form),
    }),
});
