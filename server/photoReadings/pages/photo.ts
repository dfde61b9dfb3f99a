import { typedBody } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { photoRendering } from '../present.ts';

export const showPhoto = page({
  params: idParams,
  show: (deps, { params: { id: photoId }, request, reply }) => {
    const typed = typedBody(request.query);
    return sendPage(request, reply, photoRendering(deps, request, { photoId, typed, result: null }));
  },
});
