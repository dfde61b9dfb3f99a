import type { FastifyRequest } from 'fastify';
import type { FormState } from '../../../views/kit/field.ts';
import { swatchPage } from '../../../views/swatches/swatch.ts';
import { pctTyped } from '../../calc/quantity.ts';
import { atDepthDyed } from '../../closings/asDyed.ts';
import type { Db } from '../../db/open.ts';
import { invalid } from '../../errors.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf, allows } from '../../people/guards.ts';
import { recordReadings } from '../../readings/recordReadings.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { neighboursOf } from '../neighbours.ts';
import { swatchShown } from '../present.ts';
import { lotsFromSwatch } from '../queries.ts';
import { ReadingForm } from '../schemas.ts';
import { type SwatchSheet, swatchSheet } from '../sheet.ts';
import { READING_DEFAULTS, readingsOfForm, withReadings } from './readingFields.ts';
import { repeatPart } from './weighUp.ts';

/** What to say beside the colour: whether the screen can show it, and whether it was adapted to the screen's white. */
const screenNotes = ({ readings, tile }: SwatchSheet): { inGamut: boolean; adapted: boolean } => {
  const shown = readings.filter((r) => r.withdrawnAt === null && tile.bands.some((band) => band.hex === r.hex));
  return { inGamut: shown.every((r) => r.inGamut), adapted: shown.some((r) => r.adapted) };
};

function rendering(db: Db, request: FastifyRequest, sheet: SwatchSheet, readingForm: FormState): Rendering {
  const { swatch, tile } = sheet;
  const repeat = repeatPart(db, sheet, {
    mass: '100 g',
    fibreId: String(swatch.fibreId),
    depth: pctTyped({ ppm: swatch.depthPpm }),
  });
  return {
    title: `${swatch.name}, ${swatch.code}`,
    section: 'swatches',
    body: swatchPage({
      swatch: swatchShown(sheet),
      ...screenNotes(sheet),
      readings: sheet.readings,
      lots: atDepthDyed(db, lotsFromSwatch(db, swatch.id)),
      ...neighboursOf(db, swatch, tile.lab),
      repeatForm: repeat.form,
      weighUp: repeat.part,
      readingForm,
      mayWork: allows(request.actor, 'work'),
      show: showOf(db),
    }),
  };
}

export const showSwatch = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const form = { typed: READING_DEFAULTS, errors: {} };
    return sendPage(request, reply, rendering(db, request, swatchSheet(db, params.id), form));
  },
});

export const addReading = page({
  params: idParams,
  show: ({ db, now }, { params, request, reply }) => {
    const sheet = swatchSheet(db, params.id);
    const swatchId = sheet.swatch.id;
    return submitForm(request, reply, {
      schema: ReadingForm,
      shape: withReadings,
      save: (input) => {
        const readings = readingsOfForm(input);
        if (readings.length === 0) throw invalid({ 'colour.0': 'Type at least one colour.' });
        recordReadings(db, { swatchId }, readings, actorOf(request), now());
        return `/swatches/${swatchId}#readings`;
      },
      again: (form) => rendering(db, request, sheet, form),
    });
  },
});
