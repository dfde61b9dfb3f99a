import type { FormState } from '../../../views/kit/field.ts';
import { photoStart } from '../../../views/photoReadings/start.ts';
import type { Deps } from '../../deps.ts';
import { invalid } from '../../errors.ts';
import { carried, withQuery } from '../../http/carried.ts';
import { submitForm, typedBody } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { readMultipart } from '../../http/upload.ts';
import { actorOf } from '../../people/guards.ts';
import { storePhoto } from '../../photos/store.ts';
import { cardChoices, cardOf, USUAL_GREY_L } from '../../referenceCards/cards.ts';
import { demandMayKeep, photoSubject } from '../keepPhotoReading.ts';
import { keepReadingCopy } from '../photoCopies.ts';
import { FLOW_NAMES, PhotoFlow } from '../schemas.ts';

function startPage(deps: Deps, form: FormState): Rendering {
  const { typed } = form;
  const ids = PhotoFlow.pick({ swatchId: true, lotId: true }).safeParse(typed);
  const subject = ids.success ? photoSubject(deps, ids.data) : null;
  return {
    title: 'Colour from a photo',
    section: subject && 'lotId' in subject.subject ? 'lots' : 'swatches',
    scripts: ['photoReading.js'],
    body: photoStart({
      form,
      cards: cardChoices(deps.db).map(({ card, name }) => ({ value: card, label: name })),
      subject: subject && { name: subject.name, href: subject.href },
      hidden: carried(typed, ['swatchId', 'lotId']),
    }),
  };
}

export const startReading = page({
  show: (deps, { request, reply }) => {
    const typed = { card: 'chart24Since2014', greyL: String(USUAL_GREY_L), ...typedBody(request.query) };
    return sendPage(request, reply, startPage(deps, { typed, errors: {} }));
  },
});

export const takePhoto = page({
  show: async (deps, { request, reply }) => {
    const upload = await readMultipart(request);
    return submitForm(request, reply, {
      schema: PhotoFlow,
      save: async (flow, typed) => {
        demandMayKeep(photoSubject(deps, flow), actorOf(request));
        cardOf(deps.db, flow);
        const file = upload.files.find((f) => f.field === 'photo');
        if (!file) throw invalid({ photo: 'Take or choose a photo first.' });
        const { id } = await storePhoto(deps, file.buffer, actorOf(request));
        await keepReadingCopy(deps, id, file.buffer);
        const names = flow.card === 'greyCard' ? FLOW_NAMES : FLOW_NAMES.filter((name) => name !== 'greyL');
        return withQuery(`/photo-readings/${id}`, carried(typed, names));
      },
      again: (form) => startPage(deps, form),
    });
  },
});
