import { invalid, Refusal } from '../../errors.ts';
import { readInput, typedBody } from '../../http/forms.ts';
import { seeOther } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { demandMayKeep, keepPhotoReading, photoSubject } from '../keepPhotoReading.ts';
import { notFoundInWords } from '../photoWords.ts';
import { readAsAsked } from '../readAsAsked.ts';
import { PhotoPlaces } from '../schemas.ts';

export const keepReading = page({
  params: idParams,
  show: async (deps, { params: { id: photoId }, request, reply }) => {
    const asked = readInput(PhotoPlaces, typedBody(request.body));
    const { card, reading } = await readAsAsked(deps, photoId, asked);
    const subject = photoSubject(deps, asked);
    if (!subject) throw invalid({ swatchId: 'Say on which swatch or lot to keep it.' });
    demandMayKeep(subject, actorOf(request));
    if (reading.outcome !== 'read') throw new Refusal('invalidInput', notFoundInWords(reading.reason));
    keepPhotoReading(deps, { subject: subject.subject, reading, card, photoId }, actorOf(request));
    return seeOther(reply, `${subject.href}#${'lotId' in subject.subject ? 'colour' : 'readings'}`);
  },
});
