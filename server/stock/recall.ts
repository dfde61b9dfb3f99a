import type { Db } from '../db/open.ts';
import { lotsMeaningToUse, lotsTouchedBy, ordersTouchedBy, swatchesTouchedBy } from './queries.ts';
import type { Touched } from './schemas.ts';

/** Everything that something of a container went into, through solutions made from it too, and who got it. */
export const touchedBy = (db: Db, stockLotId: number): Touched => ({
  lots: lotsTouchedBy(db, stockLotId),
  plannedLots: lotsMeaningToUse(db, stockLotId),
  swatches: swatchesTouchedBy(db, stockLotId),
  orders: ordersTouchedBy(db, stockLotId),
});

/** One line of the recall list as a file: a lot, a planned lot, a swatch or an order line. */
export interface TouchedLine {
  thing: 'lot' | 'planned lot' | 'swatch' | 'order line';
  number: string;
  name: string;
  status: string;
  lotNumber: string;
  container: string;
  /** g, or mL of a liquid or solution. */
  quantity: number | null;
  unit: '' | 'g' | 'mL';
  customer: string;
  contact: string;
}

const nothing = { lotNumber: '', container: '', quantity: null, unit: '', customer: '', contact: '' } as const;

/** The list in pages, as the CSV file takes it: one page a kind of thing. */
export function* touchedPages(touched: Touched): Generator<TouchedLine[]> {
  yield touched.lots.map((lot) => ({
    ...nothing,
    thing: 'lot',
    number: lot.number,
    name: lot.goodsText,
    status: lot.status,
    lotNumber: lot.number,
    container: lot.throughCode,
    quantity: lot.quantity === null ? null : lot.quantity / 1000,
    unit: lot.quantity === null ? '' : lot.unit === 'mg' ? 'g' : 'mL',
  }));
  yield touched.plannedLots.map((lot) => ({
    ...nothing,
    thing: 'planned lot',
    number: lot.number,
    name: '',
    status: lot.status,
    lotNumber: lot.number,
    container: lot.throughCode,
  }));
  yield touched.swatches.map((swatch) => ({
    ...nothing,
    thing: 'swatch',
    number: swatch.code,
    name: swatch.name,
    status: '',
    lotNumber: swatch.lotNumber ?? '',
  }));
  yield touched.orders.map((order) => ({
    ...nothing,
    thing: 'order line',
    number: order.number,
    name: order.description,
    status: order.status,
    lotNumber: order.lotNumber,
    customer:
      order.customerName === order.customerNameNow
        ? order.customerName
        : `${order.customerName} (now called ${order.customerNameNow})`,
    contact: order.contact,
  }));
}
