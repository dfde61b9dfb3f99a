import type { FormState } from '../../../views/kit/field.ts';
import { kindWords } from '../../../views/stock/list.ts';
import { receiptForm } from '../../../views/stock/receive.ts';
import type { Db } from '../../db/open.ts';
import { submitForm, typedBody } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { theStudio } from '../../settings/queries.ts';
import { today } from '../../settings/today.ts';
import { proposedCode, receiveContainer } from '../containers.ts';
import { freshForm } from '../deedPages.ts';
import { receivableItems, type ShelfItem, shelfItem } from '../queries.ts';
import { itemKey, ReceiptForm, receiptInputOf } from '../schemas.ts';

const itemTyped = (db: Db, key: string | undefined): ShelfItem | undefined => {
  const read = itemKey.safeParse(key);
  return read.success ? shelfItem(db, read.data.kind, read.data.id) : undefined;
};

const receiptPage = (db: Db, form: FormState): Rendering => {
  const item = itemTyped(db, form.typed['item']);
  return {
    title: 'Receive a container',
    section: 'stock',
    body: receiptForm({
      form,
      items: receivableItems(db).map(({ kind, id, label }) => ({
        value: `${kind}-${id}`,
        label,
        group: kindWords[kind],
      })),
      currency: theStudio(db).currency,
      proposedCode: item ? proposedCode(db, item.code) : null,
    }),
  };
};

export const newContainer = page({
  show: (deps, { request, reply }) => {
    const { item = '' } = typedBody(request.query);
    const form = freshForm(deps, { item, strength: '100', receivedOn: today(deps) });
    return sendPage(request, reply, receiptPage(deps.db, form));
  },
});

export const addContainer = page({
  show: (deps, { request, reply }) => {
    const { db } = deps;
    return submitForm(request, reply, {
      schema: ReceiptForm({
        currency: theStudio(db).currency,
        unit: itemTyped(db, typedBody(request.body)['item'])?.unit ?? 'mg',
      }),
      save: (input) => `/stock/${receiveContainer(deps, receiptInputOf(input), actorOf(request)).id}`,
      again: (form) => receiptPage(db, form),
    });
  },
});
