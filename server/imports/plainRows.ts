import { insertAuxiliary } from '../auxiliaries/queries.ts';
import { AuxiliaryForm, auxiliaryInputOf } from '../auxiliaries/schemas.ts';
import { insertDye } from '../dyes/queries.ts';
import { DyeForm, dyeInputOf } from '../dyes/schemas.ts';
import { invalid } from '../errors.ts';
import { insertFibre } from '../fibres/queries.ts';
import { FibreForm, fibreInputOf } from '../fibres/schemas.ts';
import { insertCustomer } from '../orders/queries.ts';
import { CustomerForm } from '../orders/schemas.ts';
import { theStudio } from '../settings/queries.ts';
import { itemToReceive, receiveContainer } from '../stock/containers.ts';
import { stockTake } from '../stock/ledger.ts';
import { ReceiptForm, receiptInputOf, type StockItem, StockTakeForm } from '../stock/schemas.ts';
import { parsed } from './parsed.ts';
import { idOf, type Thing } from './queries.ts';
import { type Outcome, SKIPPED, type Writing } from './runImport.ts';

type Words = Readonly<Record<string, string>>;

/** What a container was counted at when it came over; taking the import back takes it along. */
export const BROUGHT_OVER = 'brought over';

/** Asks, skips or renames when the key is there already, in the studio or on an earlier line. Answers the key to use, or
 *  SKIPPED. */
export function freeKey(
  w: Writing,
  input: { thing: Exclude<Thing, 'revision'>; field: string; key: string; maxLength: number; what: string },
): { key: string } | typeof SKIPPED {
  const { thing, field, key, maxLength, what } = input;
  const before = w.seenBefore(`${thing} ${key}`);
  const isTaken = (k: string): boolean => idOf(w.tx, thing, k) !== undefined;
  if (before === undefined && !isTaken(key)) return { key };
  const where = before === undefined ? `${what} “${key}” is there already` : `line ${before} has “${key}” too`;
  if (w.choices.duplicates === 'ask') throw invalid({ [field]: `${where}: say below what to do with duplicates.` });
  if (w.choices.duplicates === 'skip') {
    w.note(`left out: ${where}`);
    return SKIPPED;
  }
  for (let n = 2; ; n++) {
    const renamed = `${key.slice(0, maxLength - String(n).length - 1)}-${n}`;
    if (isTaken(renamed)) continue;
    w.note(`${where}: called “${renamed}” here`);
    return { key: renamed };
  }
}

export function writeCustomer(w: Writing, words: Words): Outcome {
  const { name, contact, note } = parsed(CustomerForm, words);
  const free = freeKey(w, { thing: 'customer', field: 'name', key: name, maxLength: 120, what: 'the customer' });
  if (free === SKIPPED) return SKIPPED;
  w.brought('customer', insertCustomer(w.tx, { name: free.key, contact, note }).id);
  return 'new';
}

export function writeFibre(w: Writing, words: Words): Outcome {
  const input = fibreInputOf(parsed(FibreForm(theStudio(w.tx).currency), words));
  const free = freeKey(w, { thing: 'fibre', field: 'name', key: input.name, maxLength: 80, what: 'the fibre' });
  if (free === SKIPPED) return SKIPPED;
  w.brought('fibre', insertFibre(w.tx, { ...input, name: free.key }).id);
  return 'new';
}

export function writeDye(w: Writing, words: Words): Outcome {
  const input = dyeInputOf(parsed(DyeForm, words));
  const free = freeKey(w, { thing: 'dye', field: 'code', key: input.code, maxLength: 12, what: 'the dye' });
  if (free === SKIPPED) return SKIPPED;
  w.brought('dye', insertDye(w.tx, { ...input, code: free.key }).id);
  return 'new';
}

export function writeAuxiliary(w: Writing, words: Words): Outcome {
  const input = auxiliaryInputOf(parsed(AuxiliaryForm, words));
  const free = freeKey(w, { thing: 'auxiliary', field: 'code', key: input.code, maxLength: 12, what: 'the auxiliary' });
  if (free === SKIPPED) return SKIPPED;
  w.brought('auxiliary', insertAuxiliary(w.tx, { ...input, code: free.key }).id);
  return 'new';
}

const A_KIND = { dye: 'a dye', auxiliary: 'an auxiliary', fibre: 'goods' } as const;

/** The item that a row names by its code or, of goods, its name. */
function itemOf(w: Writing, named: string): StockItem {
  const found = (['dye', 'auxiliary', 'fibre'] as const).flatMap((kind) => {
    const id = idOf(w.tx, kind, named);
    return id === undefined ? [] : [{ kind, id }];
  });
  const [item, second] = found;
  if (!item) throw invalid({ item: `There is no dye, auxiliary or fibre “${named}”. Import those first.` });
  if (second)
    throw invalid({ item: `“${named}” names ${A_KIND[item.kind]} and ${A_KIND[second.kind]}: change one of them.` });
  return item;
}

export function writeContainer(w: Writing, words: Words): Outcome {
  if (!words['item']) throw invalid({ item: 'What does the container hold?' });
  const item = itemOf(w, words['item']);
  const { unit } = itemToReceive(w.tx, item);
  const input = receiptInputOf(
    parsed(ReceiptForm({ currency: theStudio(w.tx).currency, unit }), { ...words, item: `${item.kind}-${item.id}` }),
  );
  let { code } = input;
  if (code !== '') {
    const free = freeKey(w, { thing: 'stockLot', field: 'code', key: code, maxLength: 24, what: 'the container' });
    if (free === SKIPPED) return SKIPPED;
    code = free.key;
  }
  const row = receiveContainer(w.deps, { ...input, code }, w.by);
  w.brought('stockLot', row.id);
  if (!words['onHand']) return 'new';
  const { counted } = parsed(
    StockTakeForm(unit),
    { counted: words['onHand'], reason: BROUGHT_OVER },
    { counted: 'onHand' },
  );
  if (counted === row.receivedQuantity) return 'new';
  stockTake(w.tx, { stockLotId: row.id, countedQuantity: counted, reason: BROUGHT_OVER }, w.by, {
    at: w.at,
    recordedAt: w.at,
  });
  return 'new';
}
