import type { FormState } from '../../../views/kit/field.ts';
import { editSwatchForm } from '../../../views/swatches/edit.ts';
import type { Db } from '../../db/open.ts';
import type { SwatchRow } from '../../db/tables/swatches.ts';
import { found } from '../../errors.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { readMultipart } from '../../http/upload.ts';
import { actorOf } from '../../people/guards.ts';
import { withPhoto } from '../../photos/store.ts';
import { idParams } from '../../typedFields.ts';
import * as rule from '../addSwatch.ts';
import { swatchById } from '../queries.ts';
import { cardTyped, SwatchEditForm } from '../schemas.ts';
import { pictureOf } from './form.ts';

const theSwatch = (db: Db, swatchId: number): SwatchRow => found(swatchById(db, swatchId), 'swatch');

const editPage = (form: FormState, swatch: SwatchRow): Rendering => ({
  title: `Edit ${swatch.name}`,
  section: 'swatches',
  body: editSwatchForm({ form, swatchId: swatch.id, name: swatch.name, photoId: swatch.photoId }),
});

export const editSwatch = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const swatch = theSwatch(db, params.id);
    const typed = {
      name: swatch.name,
      ...cardTyped(swatch),
      archived: swatch.archivedAt === null ? '' : 'yes',
      version: String(swatch.version),
    };
    return sendPage(request, reply, editPage({ typed, errors: {} }, swatch));
  },
});

export const saveSwatch = page({
  params: idParams,
  show: async (deps, { params: { id }, request, reply }) => {
    const { db, now } = deps;
    const swatch = theSwatch(db, id);
    const upload = await readMultipart(request);
    return submitForm(request, reply, {
      schema: SwatchEditForm,
      save: async ({ dropPhoto, archived, ...input }) => {
        const saved = await withPhoto(deps, pictureOf(upload), actorOf(request), (sent) => {
          const photoId = sent ?? (dropPhoto ? null : swatch.photoId);
          return rule.editSwatch(db, id, { ...input, photoId, archived: archived === 'yes' }, now());
        });
        return `/swatches/${saved.id}`;
      },
      again: (form) => editPage(form, theSwatch(db, id)),
    });
  },
});
