import { auxiliaryById } from '../server/methods/queries.ts';
import { dayOf } from '../server/settings/days.ts';
import { closeContainer, makeStockSolution, receiveContainer } from '../server/stock/containers.ts';
import { openStockLots, type StockLotOverview, shelfItem, usableStockLots } from '../server/stock/queries.ts';
import type { StockItem } from '../server/stock/schemas.ts';
import { chanceOf } from './random.ts';
import { DAY_MS, type Sowing } from './sowing.ts';

/** How a thing is bought: a usual container in mg or µL, and what it costs. */
interface Pack {
  quantity: number;
  price: number;
  freight: number;
  supplier: string;
  /** Days until best-before; null when the label names none. */
  keepsDays: number | null;
}

const GRAM = 1000;
const KILO = 1_000_000;
const POWDERS = 'dye merchant, by post';
const CHANDLER = 'chandler on the quay';

const dyePack = (grams: number, price: number, keepsDays = 730): Pack => ({
  quantity: grams * GRAM,
  price,
  freight: 4.2,
  supplier: POWDERS,
  keepsDays,
});
const PACKS: Readonly<Record<string, Pack>> = {
  F11: dyePack(100, 11.4, 340),
  F15: dyePack(250, 23.9),
  F31: dyePack(250, 26.5),
  F38: dyePack(100, 12.8),
  F52: dyePack(250, 28.4),
  F58: dyePack(100, 14.9, 345),
  F61: dyePack(250, 27.1),
  F90: dyePack(250, 24.6),
  M12: dyePack(100, 17.8, 1460),
  M24: dyePack(100, 18.2, 1460),
  M33: dyePack(100, 19.6, 1460),
  M54: dyePack(100, 20.4, 1460),
  M72: dyePack(50, 11.2, 1460),
  M92: dyePack(100, 16.9, 1460),
  SODA: { quantity: 10 * KILO, price: 16.5, freight: 0, supplier: CHANDLER, keepsDays: null },
  SALT: { quantity: 25 * KILO, price: 14.9, freight: 0, supplier: CHANDLER, keepsDays: null },
  UREA: { quantity: 2 * KILO, price: 9.8, freight: 3.5, supplier: POWDERS, keepsDays: null },
  CITR: { quantity: 2 * KILO, price: 11.6, freight: 0, supplier: CHANDLER, keepsDays: null },
  GLAU: { quantity: 5 * KILO, price: 18.2, freight: 6, supplier: POWDERS, keepsDays: null },
  AMSU: { quantity: 2 * KILO, price: 9.4, freight: 3.5, supplier: POWDERS, keepsDays: null },
  DETN: { quantity: 5 * KILO, price: 31, freight: 0, supplier: CHANDLER, keepsDays: null },
  ALGI: { quantity: 500 * GRAM, price: 14.2, freight: 3.5, supplier: POWDERS, keepsDays: 540 },
};

/** Goods that are bought by the consignment and kept on the shelf: kg, price for a kg. */
const GOODS: Readonly<Record<string, { kilos: number; pricePerKg: number }>> = {
  napkin: { kilos: 9, pricePerKg: 92 },
  linen: { kilos: 7, pricePerKg: 58 },
  merinoSilk: { kilos: 6, pricePerKg: 74 },
  merino: { kilos: 4, pricePerKg: 61 },
};

/** What stands on a shelf may stand there under a container's own code of an item. */
function receive(s: Sowing, item: StockItem, pack: Pack, isDye: boolean): void {
  const before = openStockLots(s.deps.db).length;
  const chance = chanceOf(`container ${item.kind} ${item.id} ${s.clock.at - s.nowAt} ${before}`);
  const on = dayOf(s.clock.at, s.zone);
  receiveContainer(
    s.deps,
    {
      item,
      code: '',
      quantity: pack.quantity,
      priceMinor: s.money(pack.price * chance.between(0.97, 1.06)),
      freightMinor: s.money(pack.freight),
      supplier: pack.supplier,
      makerLot: `${chance.whole(1, 9)}${chance.pick(['K', 'R', 'T', 'V'])}-${chance.whole(1000, 9899)}`,
      strengthPpm: isDye && chance.happens(0.45) ? 10_000 * chance.whole(94, 106) : 1_000_000,
      receivedOn: on,
      openedOn: on,
      bestBeforeOn: pack.keepsDays === null ? null : dayOf(s.clock.at + pack.keepsDays * DAY_MS, s.zone),
      note: '',
      clientId: null,
    },
    s.owner,
  );
}

const dyeOrAuxiliary = (item: StockItem) => ({
  dyeId: item.kind === 'dye' ? item.id : null,
  auxiliaryId: item.kind === 'auxiliary' ? item.id : null,
});

/** Containers as bought that hold something, oldest first. */
export const containersOf = (s: Sowing, item: StockItem): StockLotOverview[] =>
  usableStockLots(s.deps.db, dyeOrAuxiliary(item)).filter((c) => c.concPpm === null && c.onHandQuantity > 0);

/** Buys until the shelf holds more than is needed. `needed` in mg, or µL of a liquid. */
export function keepInStock(s: Sowing, item: StockItem, code: string, needed: number): void {
  const pack = PACKS[code];
  if (!pack) throw new Error(`nobody sells ${code}`);
  for (let bought = 0; bought < 40; bought += 1) {
    const onHand = containersOf(s, item).reduce((sum, c) => sum + c.onHandQuantity, 0);
    if (onHand >= needed * 1.15 + 2000) return;
    receive(s, item, pack, item.kind === 'dye');
  }
  throw new Error(`${code}: more is needed than forty containers hold`);
}

/** A container of goods that holds so much of them, bought when there is none; undefined for goods that are not kept. */
export function goodsFor(s: Sowing, key: string, fibreId: number, neededMg: number): number | null {
  const goods = GOODS[key];
  if (!goods) return null;
  const found = openStockLots(s.deps.db, { fibreId }).find((c) => c.onHandQuantity >= neededMg);
  if (found) return found.id;
  for (const rest of openStockLots(s.deps.db, { fibreId })) {
    if (rest.onHandQuantity >= rest.receivedQuantity * 0.1) continue;
    const reason = 'the last pieces, cut up for samples';
    closeContainer(s.deps, { stockLotId: rest.id, how: 'discarded', reason }, s.owner);
  }
  const kilos = Math.max(goods.kilos, Math.ceil((neededMg * 1.5) / KILO));
  receive(
    s,
    { kind: 'fibre', id: fibreId },
    {
      quantity: kilos * KILO,
      price: kilos * goods.pricePerKg,
      freight: 14,
      supplier: 'mill, by carrier',
      keepsDays: null,
    },
    false,
  );
  const id = openStockLots(s.deps.db, { fibreId }).find((c) => c.onHandQuantity >= neededMg)?.id;
  if (id === undefined) throw new Error(`no container holds ${neededMg} mg of ${key}`);
  return id;
}

/** A stock solution at this strength that is fresh and holds enough: what stands there, or made now from the oldest powder.
 *  One that is past its life and still holds something is poured away, as a person would who finds it. */
export function solutionFor(
  s: Sowing,
  item: StockItem,
  code: string,
  concPpm: number,
  neededUl: number,
): StockLotOverview {
  const todayOn = dayOf(s.clock.at, s.zone);
  const made = (): StockLotOverview[] =>
    usableStockLots(s.deps.db, dyeOrAuxiliary(item)).filter((c) => c.concPpm === concPpm);
  for (const old of made()) {
    if (old.bestBeforeOn !== null && old.bestBeforeOn < todayOn) {
      closeContainer(
        s.deps,
        { stockLotId: old.id, how: 'discarded', reason: 'past its life, weak in the last sample' },
        s.dyer,
      );
    }
  }
  const fresh = made().find((c) => c.onHandQuantity >= neededUl);
  if (fresh) return fresh;
  for (const dregs of made()) {
    const how = dregs.onHandQuantity === 0 ? 'empty' : 'discarded';
    const reason = how === 'empty' ? '' : 'the last of it, poured away before the new';
    closeContainer(s.deps, { stockLotId: dregs.id, how, reason }, s.dyer);
  }
  const volumeMl =
    (item.kind === 'dye' ? [250, 500, 1000, 2000] : [1000, 2000, 4000]).find((ml) => ml * 1000 >= neededUl * 1.2) ??
    Math.ceil(neededUl / 800);
  const idealMg = volumeMl * (concPpm / 1000);
  const chance = chanceOf(`solution ${code} ${concPpm} ${s.clock.at - s.nowAt}`);
  const massMg = Math.max(10, Math.round((idealMg * (1 + chance.noise(0.004))) / 10) * 10);
  keepInStock(s, item, code, massMg);
  const source = containersOf(s, item).find((c) => c.onHandQuantity >= massMg);
  if (!source) throw new Error(`no container holds ${massMg} mg of ${code}`);
  makeStockSolution(
    s.deps,
    source.id,
    {
      concPpm,
      massMg,
      madeUpUl: null,
      wantedUl: volumeMl * 1000,
      code: '',
      madeOn: null,
      bestBeforeOn: undefined,
      note: '',
      clientId: null,
    },
    s.dyer,
  );
  const solution = made().find((c) => c.onHandQuantity >= neededUl);
  if (!solution) throw new Error(`the solution of ${code} is too little`);
  return solution;
}

export const codeOf = (s: Sowing, item: StockItem): string =>
  shelfItem(s.deps.db, item.kind, item.id)?.code ?? (auxiliaryById(s.deps.db, item.id)?.code as string);
