import { found } from '../../errors.ts';
import { operation } from '../../http/routes.ts';
import { readUpload } from '../../http/upload.ts';
import { occurrenceOf } from '../../lots/occurrence.ts';
import { lotById } from '../../lots/queries.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { storeVoice } from '../../voices/store.ts';
import { recorded } from '../present.ts';
import { recordVoice } from '../recordVoice.ts';
import { Recorded, VOICE } from '../schemas.ts';

export const addVoice = operation({
  id: 'recordVoice',
  summary: 'Put a voice note into the log',
  description: 'WebM, Ogg, MP4 or WAV, known by its bytes; at most 8 MB and 5 minutes. Played at /voices/{id}.',
  params: idParams,
  upload: VOICE,
  answer: Recorded,
  status: 201,
  async run(deps, { params, request }) {
    const lotId = found(lotById(deps.db, params.id), 'lot').id;
    const { content, fields } = await readUpload(request, VOICE);
    const { text, clientId = deps.newId(), at, durationMs = null } = fields;
    const by = actorOf(request);
    const voice = await storeVoice(deps, { content, durationMs }, by);
    const said = occurrenceOf(deps, { clientId, at });
    return recorded(deps, recordVoice(deps, { lotId, voiceId: voice.id, text, stepId: null, ...said }, by));
  },
});
