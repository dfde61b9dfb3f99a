import { shoppingPage } from '../../../views/stock/shopping.ts';
import { reorderRule } from '../../calc/reorder.ts';
import { type CsvColumn, sendCsv } from '../../http/csv.ts';
import { readInput, typedBody, zodFieldErrors } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { showOf } from '../../settings/show.ts';
import { type ItemToBuy, ShoppingRule } from '../schemas.ts';
import { shoppingList } from '../shopping.ts';

const { leastDays: _, ...FIRST } = reorderRule;
const first = Object.fromEntries(Object.entries(FIRST).map(([name, days]) => [name, String(days)]));

const inUnits = (quantity: number): number => quantity / 1000;
const COLUMNS: readonly CsvColumn<ItemToBuy>[] = [
  { name: 'kind', value: (i) => i.kind },
  { name: 'code', value: (i) => i.code },
  { name: 'name', value: (i) => i.name },
  { name: 'state', value: (i) => i.state },
  { name: 'on_hand', value: (i) => inUnits(i.onHandQuantity + i.inSolutionQuantity) },
  { name: 'planned', value: (i) => inUnits(i.plannedQuantity) },
  { name: 'used_a_day', value: (i) => inUnits(i.meanDailyQuantity) },
  { name: 'reorder_at', value: (i) => inUnits(i.reorderQuantity) },
  { name: 'unit', value: (i) => (i.unit === 'mg' ? 'g' : 'mL') },
  { name: 'buy_containers', value: (i) => i.containers },
  { name: 'container_size', value: (i) => inUnits(i.lastQuantity) },
  { name: 'last_supplier', value: (i) => i.lastSupplier },
];

export const showShopping = page({
  show: ({ db, now }, { request, reply }) => {
    const typed: Record<string, string> = { ...first, ...typedBody(request.query) };
    const parsed = ShoppingRule.safeParse(typed);
    return sendPage(request, reply, {
      title: 'Shopping list',
      section: 'stock',
      status: parsed.success ? 200 : 422,
      body: shoppingPage({
        items: shoppingList(db, now(), { ...reorderRule, ...(parsed.success ? parsed.data : {}) }),
        form: { typed, errors: parsed.success ? {} : zodFieldErrors(parsed.error) },
        csvHref: `/stock/shopping.csv?${new URLSearchParams(parsed.success ? typed : first)}`,
        show: showOf(db),
      }),
    });
  },
});

export const shoppingFile = page({
  show: ({ db, now }, { request, reply }) => {
    const rule = { ...reorderRule, ...readInput(ShoppingRule, { ...first, ...typedBody(request.query) }) };
    const items = shoppingList(db, now(), rule).filter((i) => i.state !== 'enough');
    return sendCsv(reply, 'shopping list.csv', COLUMNS, [items]);
  },
});
