import { touchedPage } from '../../../views/stock/touched.ts';
import { type CsvColumn, sendCsv } from '../../http/csv.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { theContainer } from '../containerState.ts';
import { type TouchedLine, touchedBy, touchedPages } from '../recall.ts';

export const showTouched = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const container = theContainer(db, params.id);
    return sendPage(request, reply, {
      title: `What ${container.code} went into`,
      section: 'stock',
      body: touchedPage({ container, ...touchedBy(db, container.id), show: showOf(db) }),
    });
  },
});

const COLUMNS: readonly CsvColumn<TouchedLine>[] = [
  { name: 'thing', value: (line) => line.thing },
  { name: 'number', value: (line) => line.number },
  { name: 'name', value: (line) => line.name },
  { name: 'status', value: (line) => line.status },
  { name: 'lot', value: (line) => line.lotNumber },
  { name: 'container', value: (line) => line.container },
  { name: 'quantity', value: (line) => line.quantity },
  { name: 'unit', value: (line) => line.unit },
  { name: 'customer', value: (line) => line.customer },
  { name: 'contact', value: (line) => line.contact },
];

export const touchedFile = page({
  params: idParams,
  show: ({ db }, { params, reply }) => {
    const { id, code } = theContainer(db, params.id);
    return sendCsv(reply, `touched-by-${code}.csv`, COLUMNS, touchedPages(touchedBy(db, id)));
  },
});
