import { found, invalid } from '../../errors.ts';
import { page } from '../../http/routes.ts';
import { readMultipart } from '../../http/upload.ts';
import { lotById } from '../../lots/queries.ts';
import { actorOf } from '../../people/guards.ts';
import { withPhoto } from '../../photos/store.ts';
import { idParams } from '../../typedFields.ts';
import { atBench, saidDuring } from '../benchDoor.ts';
import { recordEntry } from '../recordEntry.ts';

export const photographAtBench = page({
  params: idParams,
  async show(deps, { params, request, reply }) {
    const lotId = found(lotById(deps.db, params.id), 'lot').id;
    const { typed, files } = await readMultipart(request);
    return atBench(deps, request, reply, { lotId, form: 'photo', typed }, () => {
      const [file] = files;
      if (!file) throw invalid({ photo: 'Take or choose a photo first.' });
      const by = actorOf(request);
      return withPhoto(deps, file.buffer, by, (photoId) =>
        recordEntry(
          deps,
          { lotId, kind: 'photo', text: typed['text'] ?? '', photoId, ...saidDuring(deps, lotId, typed) },
          by,
        ),
      );
    });
  },
});
