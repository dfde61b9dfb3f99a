import type { FormState } from '../../../views/kit/field.ts';
import { containerForm } from '../../../views/stock/edit.ts';
import { pctTyped } from '../../calc/quantity.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { theContainer } from '../containerState.ts';
import { changeContainer } from '../containers.ts';
import type { StockLotOverview } from '../queries.ts';
import { ContainerForm, containerChangesOf } from '../schemas.ts';

const editPage = (row: StockLotOverview, form: FormState): Rendering => ({
  title: `Edit ${row.code}`,
  section: 'stock',
  body: containerForm({ form, container: row, isSolution: row.concPpm !== null }),
});

export const editContainer = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const row = theContainer(db, params.id);
    const typed = {
      supplier: row.supplier,
      makerLot: row.makerLot,
      strength: pctTyped({ ppm: row.strengthPpm }),
      openedOn: row.openedOn ?? '',
      bestBeforeOn: row.bestBeforeOn ?? '',
      note: row.note,
      version: String(row.version),
    };
    return sendPage(request, reply, editPage(row, { typed, errors: {} }));
  },
});

export const saveContainer = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    const row = theContainer(deps.db, params.id);
    return submitForm(request, reply, {
      schema: ContainerForm,
      save: (input) => {
        changeContainer(deps, row, containerChangesOf(input), input.version, actorOf(request));
        return `/stock/${row.id}`;
      },
      again: (form) => editPage(row, form),
    });
  },
});
