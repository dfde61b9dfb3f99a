import type { FormState } from '../../../views/kit/field.ts';
import { cardForm } from '../../../views/referenceCards/form.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import * as cards from '../cards.ts';
import { CardForm } from '../schemas.ts';

const NEW: FormState = { typed: { illuminant: 'D50', observer: '2', columns: '6', rows: '4' }, errors: {} };

const formPage = (form: FormState): Rendering => ({
  title: 'New reference card',
  section: 'swatches',
  body: cardForm({ form }),
});

export const newCard = page({ show: (_deps, { request, reply }) => sendPage(request, reply, formPage(NEW)) });

export const addCard = page({
  show: ({ db, now }, { request, reply }) =>
    submitForm(request, reply, {
      schema: CardForm,
      save: (input) => {
        const patches = cards.typedPatches(input.patches, input);
        return `/reference-cards/${cards.addCard(db, { ...input, patches }, actorOf(request), now()).id}`;
      },
      again: formPage,
    }),
});
