import { found, invalid } from '../../errors.ts';
import { page } from '../../http/routes.ts';
import { readMultipart } from '../../http/upload.ts';
import { lotById } from '../../lots/queries.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { durationMsOf, storeVoice } from '../../voices/store.ts';
import { atBench, saidDuring } from '../benchDoor.ts';
import { recordVoice } from '../recordVoice.ts';

export const speakAtBench = page({
  params: idParams,
  async show(deps, { params, request, reply }) {
    const lotId = found(lotById(deps.db, params.id), 'lot').id;
    const { typed, files } = await readMultipart(request);
    return atBench(deps, request, reply, { lotId, form: 'voice', typed }, async () => {
      const [file] = files;
      if (!file) throw invalid({ voice: 'Record or choose a voice note first.' });
      const by = actorOf(request);
      const voice = await storeVoice(deps, { content: file.buffer, durationMs: durationMsOf(typed['durationMs']) }, by);
      return recordVoice(
        deps,
        { lotId, voiceId: voice.id, text: typed['text'] ?? '', ...saidDuring(deps, lotId, typed) },
        by,
      );
    });
  },
});
