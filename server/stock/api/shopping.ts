import { z } from 'zod';
import { reorderRule } from '../../calc/reorder.ts';
import { operation } from '../../http/routes.ts';
import { ShoppingResource, ShoppingRule } from '../schemas.ts';
import { shoppingList } from '../shopping.ts';

export const getShoppingList = operation({
  id: 'getShoppingList',
  summary: 'What to buy, by real use and planned lots; the rule may be tried with other days',
  query: ShoppingRule.partial(),
  answer: z.object({ items: z.array(ShoppingResource) }),
  run: ({ db, now }, { query }) => {
    const given = Object.fromEntries(Object.entries(query).filter(([, days]) => days !== undefined));
    return { items: shoppingList(db, now(), { ...reorderRule, ...given }) };
  },
});
