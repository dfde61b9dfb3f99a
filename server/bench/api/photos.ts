import { found } from '../../errors.ts';
import { operation } from '../../http/routes.ts';
import { readUpload } from '../../http/upload.ts';
import { occurrenceOf } from '../../lots/occurrence.ts';
import { lotById } from '../../lots/queries.ts';
import { actorOf } from '../../people/guards.ts';
import { withPhoto } from '../../photos/store.ts';
import { idParams } from '../../typedFields.ts';
import { recorded } from '../present.ts';
import { recordEntry } from '../recordEntry.ts';
import { PHOTO, Recorded } from '../schemas.ts';

export const addPhoto = operation({
  id: 'recordPhoto',
  summary: 'Put a photo into the log',
  params: idParams,
  upload: PHOTO,
  answer: Recorded,
  status: 201,
  async run(deps, { params, request }) {
    const lotId = found(lotById(deps.db, params.id), 'lot').id;
    const { content, fields } = await readUpload(request, PHOTO);
    const { text, clientId = deps.newId(), at } = fields;
    const by = actorOf(request);
    const entry = await withPhoto(deps, content, by, (photoId) => {
      const said = occurrenceOf(deps, { clientId, at });
      return recordEntry(deps, { lotId, kind: 'photo', text, stepId: null, photoId, ...said }, by);
    });
    return recorded(deps, entry);
  },
});
