import { minorUnitDecimals } from '../calc/rounding.ts';
import type { ClosedLot, CostLineOfLot } from '../costing/queries.ts';
import { invalid } from '../errors.ts';
import { dayOf } from '../settings/days.ts';
import type { HistoryCostLine, HistoryLot } from './history.ts';

/** A column of an export, once: the header, the documentation on the page and that of the API come from here. */
export interface ExportColumn<Row> {
  name: string;
  unit: string;
  meaning: string;
  /** What a spreadsheet takes it for; text when left out. */
  cell?: 'number' | 'money' | 'day';
  value: (row: Row) => string | number | null;
}

interface StudioOfExport {
  currency: string;
}

/** Whole units of 1/1000 as a decimal, exactly: 12600 mg → '12.6' g. */
export function thousandths(whole: number): string {
  // The shortest decimal that reads back as the number is the one of up to 15 digits that it was divided from.
  if (Math.abs(whole) < 1e15) return String(whole / 1000);
  const digits = String(Math.abs(whole)).padStart(4, '0');
  const text = `${digits.slice(0, -3)}.${digits.slice(-3)}`.replace(/\.?0+$/, '');
  return whole < 0 && text !== '0' ? `-${text}` : text;
}

/** Money in minor units as a decimal, exactly, with the currency's own number of digits. */
export const moneyWriter = (currency: string) => {
  const decimals = minorUnitDecimals({ currency });
  return (minor: number): string => {
    const digits = String(Math.abs(minor)).padStart(decimals + 1, '0');
    const cut = digits.length - decimals;
    return `${minor < 0 ? '-' : ''}${digits.slice(0, cut)}${decimals > 0 ? `.${digits.slice(cut)}` : ''}`;
  };
};

const quarterOf = (at: number): number => Math.floor(at / 900_000);

/** Studio days of instants. A zone's day changes at a quarter of an hour, so one look-up a quarter is enough; rows come in the
 *  order of time, so those of long ago are forgotten. */
const dayReader = () => {
  const known = new Map<number, string>();
  let zoneOfKnown = '';
  return (at: number, zone: string): string => {
    if (zone !== zoneOfKnown) known.clear();
    zoneOfKnown = zone;
    const quarter = quarterOf(at);
    const found = known.get(quarter);
    if (found !== undefined) return found;
    if (known.size > 1000) known.clear();
    const day = dayOf(at, zone);
    known.set(quarter, day);
    return day;
  };
};

const STATUS_MEANING = 'finished, or abandoned: given up, with what was spent until then';

const STATUS: Record<ClosedLot['status'], string> = { finished: 'finished', abandoned: 'abandoned' };

/** One row a lot. Long because each column says its unit, its meaning and where it comes from. */
export function lotColumns({ currency }: StudioOfExport): ExportColumn<HistoryLot>[] {
  const money = moneyWriter(currency);
  const decimals = minorUnitDecimals({ currency });
  const orNull = (minor: number | null): string | null => (minor === null ? null : money(minor));
  return [
    { name: 'lot', unit: '', meaning: 'Number of the production batch, as on its label', value: (r) => r.number },
    {
      name: 'finished_on',
      unit: 'day',
      cell: 'day',
      meaning: 'Day on which it was closed, in the time zone that the studio had then',
      value: (r) => r.closedOn,
    },
    { name: 'status', unit: '', meaning: STATUS_MEANING, value: (r) => STATUS[r.status] },
    { name: 'customers', unit: '', meaning: 'Customers served, separated by “; ”', value: (r) => r.customers },
    { name: 'orders', unit: '', meaning: 'Orders served, separated by “; ”', value: (r) => r.orders },
    {
      name: 'method',
      unit: '',
      meaning: 'Dyeing method, as it was called when the lot was closed',
      value: (r) => r.methodName,
    },
    {
      name: 'fibre',
      unit: '',
      meaning: 'Goods, as they were called when the lot was closed',
      value: (r) => r.fibreName,
    },
    { name: 'goods', unit: '', meaning: 'What was dyed, in words', value: (r) => r.goodsText },
    { name: 'shades', unit: '', meaning: 'Recipes used, separated by “; ”', value: (r) => r.shades },
    {
      name: 'pieces',
      unit: 'pieces',
      cell: 'number',
      meaning: 'Pieces planned; empty when not counted',
      value: (r) => r.pieces,
    },
    {
      name: 'dry_mass_g',
      unit: 'g',
      cell: 'number',
      meaning:
        'Dry mass of the goods that were dyed, on which every percentage goes; more than planned where goods were added',
      value: (r) => thousandths(r.dryMassMg),
    },
    {
      name: 'first_quality',
      unit: 'pieces',
      cell: 'number',
      meaning: 'Pieces of first quality',
      value: (r) => r.firstQuality,
    },
    { name: 'seconds', unit: 'pieces', cell: 'number', meaning: 'Pieces of second quality', value: (r) => r.seconds },
    { name: 'rework', unit: 'pieces', cell: 'number', meaning: 'Pieces to be dyed again', value: (r) => r.rework },
    { name: 'scrap', unit: 'pieces', cell: 'number', meaning: 'Pieces lost', value: (r) => r.scrap },
    {
      name: 'seconds_value',
      unit: currency,
      cell: 'money',
      meaning: 'What the seconds are expected to bring',
      value: (r) => orNull(r.secondsValueMinor),
    },
    {
      name: 'material_cost',
      unit: currency,
      cell: 'money',
      meaning: 'Dyes, auxiliaries and goods, as their lines were valued',
      value: (r) => money(r.materialMinor),
    },
    {
      name: 'labour_cost',
      unit: currency,
      cell: 'money',
      meaning: 'Hands-on time at the rates of the day',
      value: (r) => money(r.labourMinor),
    },
    {
      name: 'overhead_cost',
      unit: currency,
      cell: 'money',
      meaning: 'Overhead by labour hours',
      value: (r) => money(r.overheadMinor),
    },
    { name: 'other_cost', unit: currency, cell: 'money', meaning: 'Anything else', value: (r) => money(r.otherMinor) },
    {
      name: 'total_cost',
      unit: currency,
      cell: 'money',
      meaning: 'material + labour + overhead + other, corrections included: the sum of the lot’s cost lines',
      value: (r) => money(r.totalMinor),
    },
    {
      name: 'of_which_wasted',
      unit: currency,
      cell: 'money',
      meaning: 'Part of the total that was weighed and thrown away',
      value: (r) => money(r.wastedMinor),
    },
    {
      name: 'estimate',
      unit: currency,
      cell: 'money',
      meaning: 'Total that the plan foresaw',
      value: (r) => money(r.estimateMinor),
    },
    {
      name: 'unit_cost',
      unit: `${currency} per piece`,
      cell: 'number',
      meaning:
        '(total_cost − seconds_value) / first_quality, so that good pieces carry the loss; empty when none is good',
      value: (r) => (r.unitCostMinor === null ? null : (r.unitCostMinor / 10 ** decimals).toFixed(decimals + 2)),
    },
    {
      name: 'rework_of',
      unit: '',
      meaning: 'Number of the lot whose pieces this one dyed again; empty otherwise',
      value: (r) => r.reworkOf,
    },
    { name: 'currency', unit: '', meaning: 'ISO 4217 code of every amount in the row', value: () => currency },
  ];
}

/** Beside the others where a customer or an order is asked for: its rows are parts of lots. */
export const shareColumn = <Row>(sharePpm: (row: Row) => number): ExportColumn<Row> => ({
  name: 'share',
  unit: '%',
  cell: 'number',
  meaning: 'How much of the lot the figures of this row are; the rest belongs to others whom the lot serves',
  value: (row) => String(sharePpm(row) / 10_000),
});

/** In which unit a quantity is written, and how: powder in g, liquids in mL, both exactly. */
const QUANTITY: Record<CostLineOfLot['quantityUnit'], { unit: string; write: (whole: number) => string }> = {
  mg: { unit: 'g', write: thousandths },
  ul: { unit: 'mL', write: thousandths },
  s: { unit: 's', write: String },
  piece: { unit: 'piece', write: String },
};

/** One row a cost line. */
export function costLineColumns({ currency }: StudioOfExport): ExportColumn<HistoryCostLine>[] {
  const money = moneyWriter(currency);
  const day = dayReader();
  return [
    { name: 'lot', unit: '', meaning: 'Number of the production batch, as on its label', value: (r) => r.lot.number },
    {
      name: 'finished_on',
      unit: 'day',
      cell: 'day',
      meaning: 'Day on which the lot was closed; the date range goes by it',
      value: (r) => r.lot.closedOn,
    },
    {
      name: 'written_on',
      unit: 'day',
      cell: 'day',
      meaning:
        'Day on which this line was written, in the time zone of finished_on; later than that for a correction or an addition',
      // Most lines were written when their lot was closed, of which the day is kept.
      value: ({ line, lot }) =>
        quarterOf(line.writtenAt) === quarterOf(lot.finishedAt) ? lot.closedOn : day(line.writtenAt, lot.zone),
    },
    { name: 'line', unit: '', cell: 'number', meaning: 'Number of the line in its lot', value: (r) => r.line.ordinal },
    {
      name: 'kind',
      unit: '',
      meaning: 'dye, auxiliary, goods (together: material), labour, overhead or other',
      value: (r) => r.line.kind,
    },
    { name: 'description', unit: '', meaning: 'What it was for', value: (r) => r.line.description },
    { name: 'code', unit: '', meaning: 'Code of the dye or auxiliary', value: (r) => r.line.itemCode },
    {
      name: 'container',
      unit: '',
      meaning: 'Code of the container it was taken from',
      value: (r) => r.line.stockLotCode,
    },
    {
      name: 'makers_lot',
      unit: '',
      meaning: 'Maker’s lot number of that container',
      value: (r) => r.line.makerLot || null,
    },
    {
      name: 'quantity',
      unit: 'see unit',
      cell: 'number',
      meaning: 'How much; below nothing in a correction',
      value: (r) => QUANTITY[r.line.quantityUnit].write(r.line.quantity),
    },
    { name: 'unit', unit: '', meaning: 'g, mL, s or piece', value: (r) => QUANTITY[r.line.quantityUnit].unit },
    {
      name: 'price',
      unit: currency,
      cell: 'money',
      meaning: 'Price of per_quantity',
      value: (r) => money(r.line.priceMinor),
    },
    {
      name: 'per_quantity',
      unit: 'see unit',
      cell: 'number',
      meaning: 'The quantity that the price buys: cost = quantity × price / per_quantity, rounded once',
      value: (r) => QUANTITY[r.line.quantityUnit].write(r.line.perQuantity),
    },
    { name: 'cost', unit: currency, cell: 'money', meaning: 'Cost of the line', value: (r) => money(r.line.costMinor) },
    {
      name: 'wasted',
      unit: '',
      meaning: 'yes when it was weighed and thrown away',
      value: (r) => (r.line.wasted === 1 ? 'yes' : 'no'),
    },
    {
      name: 'corrects',
      unit: '',
      cell: 'number',
      meaning: 'Line of the same lot that this one takes back; empty otherwise',
      value: (r) => r.line.correctsOrdinal,
    },
    { name: 'person', unit: '', meaning: 'Whose time it was', value: (r) => r.line.personName },
    {
      name: 'valuation',
      unit: '',
      meaning:
        'specific: at what the container cost; movingAverage: at the average of the item when the lot was closed',
      value: (r) => r.line.valuation,
    },
    {
      name: 'correction',
      unit: '',
      meaning:
        'reversal: takes a line back; replacement: stands instead of it; addition: was forgotten when the lot was closed; empty otherwise',
      value: (r) => r.line.correction,
    },
    { name: 'reason', unit: '', meaning: 'Why it was corrected or added', value: (r) => r.line.reason || null },
    { name: 'corrected_by', unit: '', meaning: 'Who corrected or added it', value: (r) => r.line.writtenByName },
    { name: 'currency', unit: '', meaning: 'ISO 4217 code of every amount in the row', value: () => currency },
  ];
}

/** The columns that were asked for, in that order; all when none was. Throws naming one that is not there. */
export function chosenColumns<Row>(all: readonly ExportColumn<Row>[], names: readonly string[]): ExportColumn<Row>[] {
  if (names.length === 0) return [...all];
  return names.map((name) => {
    const column = all.find((c) => c.name === name);
    if (!column) throw invalid({ columns: `There is no column ${name}.` });
    return column;
  });
}
