import type { FormState } from '../../../views/kit/field.ts';
import { cornersPage } from '../../../views/sampling/corners.ts';
import type { Deps } from '../../deps.ts';
import { asRefusal, found, invalid } from '../../errors.ts';
import { submitForm, typedBody } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { readMultipart } from '../../http/upload.ts';
import { actorOf } from '../../people/guards.ts';
import { keepReadingCopy, readablePhoto } from '../../photoReadings/photoCopies.ts';
import { notFoundInWords, warningInWords } from '../../photoReadings/photoWords.ts';
import { photoById } from '../../photos/queries.ts';
import { storePhoto } from '../../photos/store.ts';
import { cardOf } from '../../referenceCards/cards.ts';
import { idParams } from '../../typedFields.ts';
import { samplingSheet } from '../planSamples.ts';
import { cardOptions, planRendering } from '../present.ts';
import { SheetPhotoForm } from '../schemas.ts';
import { keepSheetReading, readSheetPhoto } from '../sheetPhoto.ts';

const photoParams = idParams.extend({ photoId: idParams.shape.id });

export const takeSheetPhoto = page({
  params: idParams,
  show: async (deps, { params: { id: planId }, request, reply }) => {
    samplingSheet(deps.db, planId);
    const { typed, files } = await readMultipart(request);
    try {
      const file = files.find((f) => f.field === 'photo');
      if (!file) throw invalid({ photo: 'Choose a photo.' });
      const photo = await storePhoto(deps, file.buffer, actorOf(request));
      await keepReadingCopy(deps, photo.id, file.buffer);
      const card = new URLSearchParams({ card: typed['card'] ?? '' });
      return seeOther(reply, `/sampling/${planId}/photo/${photo.id}?${card}`);
    } catch (error) {
      const refusal = asRefusal(error);
      if (!refusal || refusal.status === 404) throw error;
      const photoForm = { typed, errors: refusal.fields };
      const again = planRendering(deps.db, request, planId, { photoForm });
      return sendPage(request, reply, { ...again, status: refusal.status });
    }
  },
});

async function cornersRendering(
  deps: Deps,
  { id: planId, photoId }: { id: number; photoId: number },
  form: FormState,
): Promise<Rendering> {
  const { plan, pieces } = samplingSheet(deps.db, planId);
  const { widthPx, heightPx } = await readablePhoto(deps, found(photoById(deps.db, photoId), 'photo'));
  return {
    title: 'Where do the pieces lie?',
    section: 'swatches',
    scripts: ['sheetCorners.js'],
    body: cornersPage({
      planId,
      name: plan.name,
      photoId,
      widthPx,
      heightPx,
      columns: plan.gridColumns,
      count: pieces.length,
      form,
      cards: cardOptions(deps.db),
    }),
  };
}

export const showCorners = page({
  params: photoParams,
  show: async (deps, { params, request, reply }) => {
    const typed = { cardBy: 'find', ...typedBody(request.query) };
    return sendPage(request, reply, await cornersRendering(deps, params, { typed, errors: {} }));
  },
});

export const readSheet = page({
  params: photoParams,
  show: (deps, { params, request, reply }) => {
    const { id: planId, photoId } = params;
    let messages: string[] = [];
    return submitForm(request, reply, {
      schema: SheetPhotoForm,
      // Warnings about the photo stand above what was read, and so the answer is the page itself.
      done: (location) =>
        messages.length === 0
          ? seeOther(reply, location)
          : sendPage(request, reply, planRendering(deps.db, request, planId, { messages })),
      save: async ({ card, cardCorners, gridCorners }) => {
        const { sheet, reading } = await readSheetPhoto(deps, {
          planId,
          photoId,
          card: cardOf(deps.db, { card }),
          cardCorners,
          gridCorners,
        });
        if (reading.outcome !== 'read') throw invalid({ corners: notFoundInWords(reading.reason) });
        keepSheetReading(deps.db, sheet, reading, photoId);
        messages = reading.warnings.map(warningInWords);
        return `/sampling/${planId}#results`;
      },
      again: ({ typed, errors }) =>
        cornersRendering(deps, params, {
          typed: errors['corners'] ? { ...typed, cardBy: 'hand' } : typed,
          errors,
        }),
    });
  },
});
