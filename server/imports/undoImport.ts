import type { ImportRow } from '../db/tables/keeping.ts';
import type { Actor, Deps } from '../deps.ts';
import { asRefusal, found, Refusal } from '../errors.ts';
import { dropUndyedOfImport } from '../matching/queries.ts';
import {
  changedSince,
  deleteThing,
  importById,
  LEAVING_ORDER,
  markUndone,
  namesOf,
  setUndoing,
  type Thing,
  tablesStandingOn,
  thingsOf,
} from './queries.ts';

/** What a row of a table is called, to somebody who does not know the tables. */
const STANDS: Readonly<Record<string, string>> = {
  lot_colours: 'a lot',
  lots: 'a lot',
  lot_components: 'a lot',
  weighings: 'a weighing',
  cost_lines: 'the cost of a lot',
  order_lines: 'an order',
  orders: 'an order',
  swatches: 'a swatch',
  swatch_stock_lots: 'a swatch',
  recipe_components: 'a recipe',
  recipe_revisions: 'a recipe',
  stock_lots: 'a container',
  stock_ledger: 'the ledger',
  stock_lot_events: 'what was done with a container',
  strength_changes: 'what was done with a container',
  stock_money: 'money that came after its receipt',
  method_auxiliaries: 'a method',
  sampling_plans: 'a sampling plan',
  sampling_pieces: 'a sampling plan',
  sampling_stocks: 'a sampling plan',
  undyed_goods: 'a reading of the goods before dyeing',
};

const TOLD = 8;

/** Takes an import back: everything that it brought goes, or nothing does. Refused when something stands on one of its
 *  things, or somebody changed one since; the message names them. */
export function undoImport(deps: Deps, importId: number, by: Actor): ImportRow {
  const { db, now } = deps;
  return db.transaction((tx) => {
    const row = found(importById(tx, importId), 'import');
    if (row.undoneAt !== null) throw new Refusal('conflict', 'This import was taken back already.');
    const changed = changedSince(tx, importId);
    if (changed.length > 0) {
      throw new Refusal('conflict', `Changed since they came, so nothing was taken back: ${told(changed)}.`);
    }
    setUndoing(tx, importId, 1);
    dropUndyedOfImport(tx, importId);
    const things = thingsOf(tx, importId);
    const held: { thing: Thing; thingId: number; why: string }[] = [];
    for (const thing of LEAVING_ORDER) {
      for (const { thingId } of things.filter((t) => t.thing === thing)) {
        try {
          tx.transaction((inner) => deleteThing(inner, thing, thingId));
        } catch (error) {
          if (!asRefusal(error)) throw error;
          const tables = tablesStandingOn(tx, thing, thingId).map((t) => STANDS[t] ?? t.replaceAll('_', ' '));
          held.push({ thing, thingId, why: [...new Set(tables)].join(' and ') || 'the record' });
        }
      }
    }
    if (held.length > 0) {
      throw new Refusal('conflict', `Something stands on what came with it, so nothing was taken back: ${told(held)}.`);
    }
    if (!markUndone(tx, importId, now(), by.personId)) throw new Refusal('conflict', 'Try again.');
    return importById(tx, importId) ?? row;

    function told(list: readonly { thing: Thing; thingId: number; why?: string }[]): string {
      const words = list.slice(0, TOLD).map(({ thing, thingId, why }) => {
        const name = namesOf(tx, thing, [thingId])[0]?.name ?? `${thing} ${thingId}`;
        return why ? `${name} (${why})` : name;
      });
      return `${words.join('; ')}${list.length > TOLD ? ` and ${list.length - TOLD} more` : ''}`;
    }
  });
}
