/* Sums a studio's closed lots in four ways that share no code with the service, and says whether they agree to the minor unit
   and the milligram: the XLSX as a spreadsheet library reads it, the CSV as a CSV library reads it, the pages' own words, and
   the tables by SQL written here.

   node tests/bench/yearSums.mjs --url http://localhost:8080 --token TOKEN --data DATA_DIR [--from 2025-12-01 --to 2026-11-30] [--cookie studio=…]
*/
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import Database from 'better-sqlite3';
import { parse } from 'csv-parse/sync';
import readXlsx from 'read-excel-file/node';

const { values: asked } = parseArgs({
  options: {
    url: { type: 'string' },
    token: { type: 'string' },
    data: { type: 'string' },
    from: { type: 'string', default: '' },
    to: { type: 'string', default: '' },
    cookie: { type: 'string' },
  },
});
if (!asked.url || !asked.token || !asked.data) {
  console.error('Say --url, --token and --data.');
  process.exit(2);
}

const range = `from=${asked.from}&to=${asked.to}`;
const get = async (path, headers) => {
  const answer = await fetch(asked.url + path, { headers });
  if (!answer.ok) throw new Error(`${path}: ${answer.status}`);
  return answer;
};
const bearer = { authorization: `Bearer ${asked.token}` };

/** A decimal with two digits as whole cents. */
const cents = (text) => {
  const [, sign, whole, part] = /^(-?)(\d+)\.(\d\d)$/.exec(String(text)) ?? [];
  if (whole === undefined) throw new Error(`no money: ${text}`);
  return (sign ? -1 : 1) * (Number(whole) * 100 + Number(part));
};
const numberCents = (number) => Math.round(number * 100);

const database = new Database(join(asked.data, 'studio.sqlite'), { readonly: true });
const { zone } = database.prepare('select zone from studio').get();
const day = (at) => new Intl.DateTimeFormat('en-CA', { timeZone: zone }).format(at);
const isAsked = (at) => (!asked.from || day(at) >= asked.from) && (!asked.to || day(at) <= asked.to);
const lots = database
  .prepare('select id, number, finished_at from lots where finished_at is not null')
  .all()
  .filter((lot) => isAsked(lot.finished_at));
const idsJson = JSON.stringify(lots.map((lot) => lot.id));
const inLots = 'lot_id in (select value from json_each(?))';
const one = (sql) => database.prepare(sql).get(idsJson);
const tables = {
  lots: lots.length,
  ...one(`select count(*) as lines, coalesce(sum(cost_minor), 0) as cost from cost_lines where ${inLots}`),
  mg: one(
    `select coalesce(sum(quantity), 0) as q from cost_lines where quantity_unit = 'mg' and stock_lot_id is not null and ${inLots}`,
  ).q,
  ul: one(
    `select coalesce(sum(quantity), 0) as q from cost_lines where quantity_unit = 'ul' and stock_lot_id is not null and ${inLots}`,
  ).q,
};
const ledgerSum = (unit) =>
  one(`select coalesce(-sum(e.quantity), 0) as q from stock_ledger e join stock_lots s on s.id = e.stock_lot_id join lots l on l.id = e.lot_id
    where s.unit = '${unit}' and not (l.goods_owner = 'customer' and s.kind = 'fibre') and e.${inLots}`).q;
const ledger = { mg: ledgerSum('mg'), ul: ledgerSum('ul') };

const sheets = async (rows) => {
  const file = Buffer.from(await (await get(`/api/v1/exports/lots.xlsx?${range}&rows=${rows}`, bearer)).arrayBuffer());
  const [header, ...body] = (await readXlsx(file))[0].data;
  return { body, of: (name) => header.indexOf(name) };
};
const byLot = await sheets('lot');
const byLine = await sheets('costLine');
const sumOf = (sheet, column, whole) => sheet.body.reduce((sum, row) => sum + whole(row[sheet.of(column)] ?? 0), 0);
const quantities = (unit) =>
  byLine.body
    .filter((row) => row[byLine.of('unit')] === unit && row[byLine.of('container')])
    .reduce((sum, row) => sum + Math.round(1000 * row[byLine.of('quantity')]), 0);

const csv = parse(await (await get(`/api/v1/exports/lots.csv?${range}&rows=costLine`, bearer)).text(), {
  columns: true,
});
const history = await (await get(`/api/v1/history?${range}`, bearer)).json();
const costing = await (await get(`/api/v1/costing?${range}&by=shade`, bearer)).json();

const checks = [
  ['lots: tables / XLSX', tables.lots, byLot.body.length],
  ['cost lines: tables / XLSX', tables.lines, byLine.body.length],
  ['cost lines: tables / CSV', tables.lines, csv.length],
  ['cost: tables / XLSX by lot', tables.cost, sumOf(byLot, 'total_cost', numberCents)],
  ['cost: tables / XLSX by line', tables.cost, sumOf(byLine, 'cost', numberCents)],
  ['cost: tables / CSV by line', tables.cost, csv.reduce((sum, row) => sum + cents(row.cost), 0)],
  ['cost: tables / batch history', tables.cost, history.totals.totalMinor],
  ['cost: tables / costing by shade', tables.cost, costing.groups.reduce((sum, group) => sum + group.totalMinor, 0)],
  ['mg: cost lines / ledger', tables.mg, ledger.mg],
  ['µL: cost lines / ledger', tables.ul, ledger.ul],
  ['mg: XLSX / ledger', quantities('g'), ledger.mg],
  ['µL: XLSX / ledger', quantities('mL'), ledger.ul],
];

// Every lot by itself, in the file and in the tables.
const costs = new Map(
  database
    .prepare(`select lot_id, sum(cost_minor) as cost from cost_lines where ${inLots} group by lot_id`)
    .all(idsJson)
    .map((row) => [row.lot_id, row.cost]),
);
const numbers = new Map(lots.map((lot) => [lot.number, costs.get(lot.id) ?? 0]));
const wrong = byLot.body.filter(
  (row) => numbers.get(row[byLot.of('lot')]) !== numberCents(row[byLot.of('total_cost')]),
);
checks.push(['lots whose cost in the file is not that of the tables', 0, wrong.length]);

if (asked.cookie) {
  const page = await (await get(`/history?${range}`, { cookie: asked.cookie })).text();
  const shown = /<dt>Total cost<\/dt><dd><span class="big-number">[^\d-]*(-?[\d,]+\.\d\d)/.exec(page)?.[1];
  checks.push([
    'cost: tables / what the history page says',
    tables.cost,
    shown === undefined ? 'not found' : cents(shown.replaceAll(',', '')),
  ]);
  const costsPage = await (await get(`/costing?${range}&by=month`, { cookie: asked.cookie })).text();
  const spent = /<dt>Spent<\/dt><dd><span class="big-number">[^\d-]*(-?[\d,]+\.\d\d)/.exec(costsPage)?.[1];
  checks.push([
    'cost: tables / what the costing page says',
    tables.cost,
    spent === undefined ? 'not found' : cents(spent.replaceAll(',', '')),
  ]);
}

let isGood = true;
for (const [name, left, right] of checks) {
  const same = left === right;
  isGood &&= same;
  console.log(`${same ? 'equal ' : 'DIFFER'}  ${name}: ${left}${same ? '' : ` / ${right}`}`);
}
process.exit(isGood ? 0 : 1);
