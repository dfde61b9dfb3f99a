import type { FormState, Option } from '../../../views/kit/field.ts';
import { newSwatchForm } from '../../../views/swatches/form.ts';
import type { Db } from '../../db/open.ts';
import { listFibres } from '../../fibres/queries.ts';
import { submitForm, typedBody, typedRows } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { readMultipart, type Upload } from '../../http/upload.ts';
import { listMethods } from '../../methods/queries.ts';
import { actorOf } from '../../people/guards.ts';
import { withPhoto } from '../../photos/store.ts';
import { recipeChoices } from '../../recipes/queries.ts';
import { today } from '../../settings/today.ts';
import { openStockLots } from '../../stock/queries.ts';
import * as rule from '../addSwatch.ts';
import { cardTyped, EMPTY_CARD, SwatchForm, swatchInputOf } from '../schemas.ts';
import { READING_DEFAULTS, readingsOfForm, withReadings } from './readingFields.ts';

export const fibreOptions = (db: Db): Option[] => listFibres(db).map((f) => ({ value: String(f.id), label: f.name }));
export const methodOptions = (db: Db): Option[] => listMethods(db).map((m) => ({ value: String(m.id), label: m.name }));

/** The picture of a form; undefined when none has been chosen. */
export const pictureOf = (upload: Upload): Buffer | undefined => upload.files.find((f) => f.field === 'photo')?.buffer;

const formPage = (db: Db, form: FormState): Rendering => ({
  title: 'New swatch',
  section: 'swatches',
  body: newSwatchForm({
    form,
    choices: {
      revisions: recipeChoices(db).map((r) => ({ value: String(r.revisionId), label: r.label })),
      fibres: fibreOptions(db),
      methods: methodOptions(db),
      containers: openStockLots(db, { kind: 'dye' }).map((s) => ({
        value: String(s.id),
        label: `${s.code} · ${s.itemName}`,
      })),
    },
  }),
});

export const newSwatch = page({
  show: (deps, { request, reply }) => {
    const { db } = deps;
    const typed = {
      code: rule.nextCardCode(db),
      dyedOn: today(deps),
      ...READING_DEFAULTS,
      ...cardTyped(EMPTY_CARD),
      ...typedBody(request.query),
    };
    return sendPage(request, reply, formPage(db, { typed, errors: {} }));
  },
});

export const addSwatch = page({
  show: async (deps, { request, reply }) => {
    const { db, now } = deps;
    const upload = await readMultipart(request);
    return submitForm(request, reply, {
      schema: SwatchForm,
      shape: (typed) => ({ ...withReadings(typed), stockLots: typedRows(typed, ['stockLot']).map((r) => r.stockLot) }),
      save: async (form) => {
        const readings = readingsOfForm(form);
        const by = actorOf(request);
        const swatch = await withPhoto(deps, pictureOf(upload), by, (photoId) =>
          rule.addSwatch(db, { ...swatchInputOf(form), photoId, readings }, by, now()),
        );
        return `/swatches/${swatch.id}`;
      },
      again: (form) => formPage(db, form),
    });
  },
});
