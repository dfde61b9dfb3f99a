import { z } from 'zod';
import type { FormState } from '../../../views/kit/field.ts';
import * as show from '../../../views/kit/show.ts';
import { lotSwatchPage } from '../../../views/lots/swatch.ts';
import { closingOf } from '../../closings/queries.ts';
import type { LotRow } from '../../db/tables/lots.ts';
import type { Deps } from '../../deps.ts';
import { demandNone, found, invalid } from '../../errors.ts';
import { submitForm, typedRows } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { readMultipart } from '../../http/upload.ts';
import { actorOf } from '../../people/guards.ts';
import { withPhoto } from '../../photos/store.ts';
import { standingReadings } from '../../readings/queries.ts';
import { typedReadings } from '../../readings/schemas.ts';
import { usableReadings } from '../../readings/usableReadings.ts';
import { revisionWithComponents } from '../../recipes/queries.ts';
import { dayOf } from '../../settings/days.ts';
import { theStudio } from '../../settings/queries.ts';
import { stockLotById } from '../../stock/queries.ts';
import { addSwatch, nextCardCode } from '../../swatches/addSwatch.ts';
import { SwatchForm } from '../../swatches/schemas.ts';
import { idParams } from '../../typedFields.ts';
import { coloursAsDyed } from '../dyedColours.ts';
import { lotById, stockLotIdsUsed } from '../queries.ts';

const LotSwatchForm = SwatchForm.omit({
  revisionId: true,
  depth: true,
  fibreId: true,
  methodId: true,
  stockLots: true,
}).extend({ lotColourId: z.string(), takeReading: z.literal('yes').optional() });

export const newLotSwatch = page({
  params: idParams,
  show: (deps, { params, request, reply }) =>
    sendPage(request, reply, formPage(deps, found(lotById(deps.db, params.id), 'lot'), null)),
});

/** Puts a finished lot back into the library. */
export const keepLotSwatch = page({
  params: idParams,
  async show(deps, { params, request, reply }) {
    const { db, now } = deps;
    const lot = found(lotById(db, params.id), 'lot');
    const { files } = await readMultipart(request);
    return submitForm(request, reply, {
      schema: LotSwatchForm,
      shape: (typed) => ({ ...typed, readings: typedRows(typed, ['colour', 'share']) }),
      save: async (input) => {
        const colour = coloursAsDyed(db, lot.id).find((c) => String(c.id) === input.lotColourId);
        if (!colour) throw invalid({ lotColourId: 'Which colour of the lot is it?' });
        const { inputs, errors } = typedReadings(input);
        demandNone(errors);
        const own = input.takeReading === 'yes' ? usableReadings(standingReadings(db, { lotId: lot.id })) : [];
        const by = actorOf(request);
        const dyeIds = revisionWithComponents(db, colour.revisionId)?.components.map((c) => c.dye.id) ?? [];
        const swatch = await withPhoto(deps, files[0]?.buffer, by, (photoId) =>
          addSwatch(
            db,
            {
              code: input.code,
              name: input.name,
              revisionId: colour.revisionId,
              depthPpm: colour.depthPpm,
              fibreId: lot.fibreId,
              methodId: lot.methodId,
              lotId: lot.id,
              dryMassMg: input.dryMass,
              dyedOn: input.dyedOn,
              cardPlace: input.cardPlace,
              photoId,
              rating: input.rating,
              note: input.note,
              stockLotIds: stockLotIdsUsed(db, lot.id).filter((id) =>
                dyeIds.includes(stockLotById(db, id)?.dyeId ?? -1),
              ),
              readings: [
                ...inputs,
                ...own.map((r) => ({
                  colour: { l: r.l, a: r.a, b: r.b, illuminant: r.illuminant, observer: r.observer },
                  source: r.source,
                  asTyped: r.asTyped,
                  areaSharePpm: r.areaSharePpm,
                  uncertaintyMilli: r.uncertaintyMilli,
                  note: `read on lot ${lot.number}`,
                })),
              ],
            },
            by,
            now(),
          ),
        );
        return `/swatches/${swatch.id}`;
      },
      again: (form) => formPage(deps, lot, form),
    });
  },
});

function formPage({ db, now }: Deps, lot: LotRow, form: FormState | null): Rendering {
  const colours = coloursAsDyed(db, lot.id);
  const [first] = colours;
  return {
    title: `Swatch of lot ${lot.number}`,
    section: 'swatches',
    body: lotSwatchPage({
      lotId: lot.id,
      number: lot.number,
      colours: colours.map((c) => ({
        value: String(c.id),
        label: `${c.recipeName} at ${show.depthDyed(c.depthPpm)}`,
      })),
      hasReading: standingReadings(db, { lotId: lot.id }).length > 0,
      form: form ?? {
        errors: {},
        typed: {
          code: nextCardCode(db),
          name: first?.recipeName ?? '',
          lotColourId: String(first?.id ?? ''),
          dyedOn: closingOf(db, lot.id)?.closedOn ?? dayOf(now(), theStudio(db).zone),
          takeReading: 'yes',
          readingSource: 'typed',
          illuminant: 'D65',
          observer: '10',
        },
      },
    }),
  };
}
