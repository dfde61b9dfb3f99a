import { describe, expect, onTestFinished, test } from 'vitest';
import { openDatabase, type Sqlite } from '../../server/db/open.ts';
import { freshStudio, MONDAY } from '../support/app.ts';
import { lotWorld, writeLot } from '../support/finishedLots.ts';
import { type Trigger, triggersOf, weakened, wordsOf } from '../support/triggers.ts';

/* Every guard of the database, and for each what the studio would lose without it: a statement that it must refuse, in its own
 * words. Then each part of each guard is left out in turn, and one of the statements must tell. */

/** The last statement is the one in question; those before it prepare. */
type Sql = string | readonly string[];

interface Guarded {
  /** What must be refused, by what it would do to the record. */
  refuses?: Record<string, Sql>;
  /** What must be let through all the same. */
  lets?: Record<string, Sql>;
  /** Of a trigger that writes: the statement, and what a question must answer after it. */
  writes?: Record<string, { by: Sql; shown: string; is: unknown }>;
  /** Parts that can be left out without a difference, each with the reason. */
  spare?: Record<string, string>;
}

/** Lots 1 and 3 are finished, 2 is on the bench, 4 is planned and 5 is abandoned. Container 1 is yellow, 2 blue, 3 soda. */
const FINISHED = 1;
const OPEN = 2;
const OTHER = 3;
const PLANNED = 4;
const ABANDONED = 5;
const YELLOW = 1;
const BLUE = 2;

let kept: Promise<Buffer> | undefined;
let columns: Map<string, string[]>;

/** A row like another, with other values where they are given (as SQL). Ids are given anew. */
function again(table: string, where: string, values: Record<string, number | string>): string {
  const names = (columns.get(table) ?? []).filter((c) => c !== 'id' || 'id' in values);
  const list = names.map((c) => String(values[c] ?? c)).join(', ');
  return `insert into ${table} (${names.join(', ')}) select ${list} from ${table} where ${where} order by 1 limit 1`;
}

/** A studio with something of everything that is guarded. */
async function guardedStudio(): Promise<Buffer> {
  const { deps, owner } = await freshStudio();
  const world = lotWorld(deps, owner);
  writeLot(world, { number: '26-0001', finishedAt: MONDAY });
  writeLot(world, { number: '26-0002', finishedAt: MONDAY }, true);
  writeLot(world, { number: '26-0003', finishedAt: MONDAY + 1 });
  const { sqlite } = deps;
  columns = new Map(
    (sqlite.prepare("select name from sqlite_master where type = 'table'").pluck().all() as string[]).map((table) => [
      table,
      sqlite.prepare('select name from pragma_table_info(?)').pluck().all(table) as string[],
    ]),
  );
  sqlite.exec(
    again('lots', 'id = 1', { number: "'26-0004'", status: "'planned'", started_at: 'null', finished_at: 'null' }),
  );
  writeLot(world, {
    number: '26-0005',
    finishedAt: MONDAY,
    dryMassMg: 600_000,
    status: 'abandoned',
    outcome: null,
  });
  for (const statement of [
    // Three more formulas of the one recipe: a swatch stands on 2, a lot on 3, nothing on 4 and 5. 5 and 6 were imported.
    ...[2, 3, 4, 5, 6].map((number) => again('recipe_revisions', 'id = 1', { id: number, number })),
    ...[2, 3, 4, 5, 6].map(
      (revision) =>
        `insert into recipe_components (revision_id, ordinal, dye_id, share_ppm, depth_ppm) values (${revision}, 1, 1, 1000000, 20000)`,
    ),
    again('swatches', 'id = 1', { code: "'L-2'", revision_id: 2 }),
    again('swatches', 'id = 1', { code: "'L-3'" }),
    `insert into lot_colours (lot_id, ordinal, revision_id, depth_ppm, share_ppm) values (${PLANNED}, 1, 3, 20000, 1000000)`,
    "insert into dyes (id, code, name, class) values (77, 'R1', 'Red', 'reactive')",
    "insert into fibres (id, name, class, kind) values (77, 'Hemp', 'cellulose', 'cloth')",
    "insert into methods (id, name, dye_class) values (77, 'Pad and batch', 'reactive')",
    // Containers 4 and 5 came by import; 6 is a stock solution of 1.
    again('stock_lots', 'id = 1', { id: 4, code: "'Y1-B'" }),
    again('stock_lots', 'id = 1', { id: 5, code: "'Y1-C'" }),
    again('stock_lots', 'id = 1', { id: 6, code: "'Y1-S'", unit: "'ul'", source_stock_lot_id: 1, conc_ppm: 10000 }),
    ...[4, 5, 6].map((id) => again('stock_ledger', "kind = 'receipt'", { id: id * 100, stock_lot_id: id })),
    "insert into imports (id, kind, file_name, row_count, made_at, made_by) values (1, 'stock', 'stock.csv', 1, 1, 1)",
    "insert into imports (id, kind, file_name, row_count, made_at, made_by) values (2, 'swatches', 'library.csv', 1, 1, 1)",
    "insert into import_rows (import_id, thing, thing_id, line) values (1, 'stockLot', 4, 1), (2, 'stockLot', 5, 1)",
    "insert into import_rows (import_id, thing, thing_id, line) values (1, 'revision', 5, 1), (2, 'revision', 6, 1)",
    "insert into import_rows (import_id, thing, thing_id, line) values (1, 'swatch', 2, 1), (2, 'swatch', 3, 1)",
    // The same numbers name other things in the first import as well.
    "insert into import_rows (import_id, thing, thing_id, line) values (1, 'dye', 1, null), (1, 'dye', 2, null), (1, 'dye', 3, null)",
    "insert into import_rows (import_id, thing, thing_id, line) values (1, 'dye', 6, null)",
    ...[1, 2, 3].map(
      (swatch) =>
        `insert into colour_readings (id, swatch_id, l, a, b, illuminant, observer, source, area_share_ppm, read_at, read_by) values (${swatch}, ${swatch}, 50, 1, 2, 'D65', '10', 'typed', 500000, 1, 1)`,
    ),
    `insert into colour_readings (id, lot_id, l, a, b, illuminant, observer, source, read_at, read_by) values (4, ${FINISHED}, 50, 1, 2, 'D65', '10', 'typed', 1, 1)`,
    `insert into colour_readings (id, order_line_id, l, a, b, illuminant, observer, source, read_at, read_by) values (5, 1, 50, 1, 2, 'D65', '10', 'typed', 1, 1)`,
    again('order_lines', 'id = 1', { ordinal: 2 }),
    "insert into sampling_plans (id, name, kind, fibre_id, method_id, piece_mass_mg, reserve_ppm, grid_columns, made_at, made_by) values (1, 'ladder', 'depthLadder', 1, 1, 5000, 0, 5, 1, 1), (2, 'blends', 'blendLadder', 1, 1, 5000, 0, 5, 1, 1)",
    "insert into sampling_pieces (id, plan_id, ordinal, depth_ppm, shares_ppm, l, a, b, illuminant, observer, source, swatch_id) values (1, 1, 1, 10000, '[1000000]', 50, 1, 2, 'D65', '10', 'typed', 1), (2, 1, 2, 20000, '[1000000]', null, null, null, null, null, null, null)",
    "insert into audit_entries (at, door, action, status) values (1, 'page', 'POST /stock', 303)",
    `insert into lot_reworks (rework_lot_id, of_lot_id, noted_at, noted_by) values (${OPEN}, ${FINISHED}, 1, 1)`,
    "insert into stock_lot_events (stock_lot_id, kind, reason, at, by_person_id) values (1, 'recalled', 'mislabelled', 1, 1)",
    "insert into questions (id, kind, asks, lot_id, words, asked_at) values (1, 'lateWeighing', 'owner', 1, 'Does it stand?', 1)",
    "insert into questions (id, kind, asks, lot_id, words, asked_at, answer, answered_at, answered_by) values (2, 'lateWeighing', 'owner', 1, 'Does it stand?', 1, 'stands', 2, 1)",
  ])
    sqlite.exec(statement);
  // Every weakened guard has the schema read anew, which so many triggers would take most of.
  for (const name of sqlite.prepare("select name from sqlite_master where name glob 'proof_of_*'").pluck().all())
    sqlite.exec(`drop trigger "${name}"`);
  return sqlite.serialize();
}

/** A correction of a cost line of a closed lot, whole: the line with its signs turned. */
const takenBack = (line: number, other: Record<string, number | string> = {}): string =>
  again('cost_lines', `id = ${line}`, {
    ordinal: 900,
    quantity: '-quantity',
    cost_minor: '-cost_minor',
    corrects_id: line,
    correction: "'reversal'",
    reason: "'read wrongly'",
    written_by: 1,
    written_at: 5,
    ...other,
  });
const insteadOf = (line: number, other: Record<string, number | string> = {}): string =>
  takenBack(line, {
    ordinal: 901,
    correction: "'replacement'",
    quantity: 'quantity',
    cost_minor: 'cost_minor',
    ...other,
  });
const forgotten = (other: Record<string, number | string> = {}): string =>
  again('cost_lines', 'id = 1', {
    ordinal: 902,
    added: 1,
    reason: "'forgotten'",
    written_by: 1,
    written_at: 5,
    ...other,
  });
const booked = (other: Record<string, number | string>): string =>
  again('stock_ledger', `kind = 'issue' and lot_id = ${FINISHED} and stock_lot_id = ${YELLOW}`, {
    weighing_id: 'null',
    recorded_at: 5,
    ...other,
  });
const setEach = (table: string, where: string, values: Record<string, number | string>): Record<string, Sql> =>
  Object.fromEntries(
    Object.entries(values).map(([column, value]) => [
      `another ${column}`,
      `update ${table} set ${column} = ${value} where ${where}`,
    ]),
  );
const entry = (lotId: number, other: Record<string, number | string>): string =>
  again('log_entries', `lot_id = ${lotId} and kind = 'start'`, {
    kind: "'note'",
    client_id: "'one-more-entry'",
    ...other,
  });
const ofLot = (lotId: number, table: string): string => `(select id from ${table} where lot_id = ${lotId} limit 1)`;
/** A row of a lot written once more. `unique` is the column that two of its rows may not share. */
const lateRow = (table: string, lotId: number, unique: Record<string, number | string>): string =>
  again(table, `lot_id = ${FINISHED}`, { lot_id: lotId, ...unique });
const undoing = 'update imports set undoing = 1 where id = 1';
/** The row of a closed lot in the reports, written once more with something else in it. */
const writtenAnew = (set: string): Sql => [
  `create temp table kept as select * from closed_lots where lot_id = ${FINISHED}`,
  'drop trigger closed_lots_no_delete',
  'delete from closed_lots',
  `update temp.kept set ${set}`,
  'insert into closed_lots select * from temp.kept',
];
const closedAnew = (set: string): Sql => [
  `create temp table kept as select * from lot_closings where lot_id = ${FINISHED}`,
  'drop trigger lot_closings_no_delete',
  'delete from lot_closings',
  `update temp.kept set ${set}`,
  'insert into lot_closings select * from temp.kept',
];
const namedAnew = (values: Record<string, number | string>): Sql => [
  'drop trigger lot_names_no_delete',
  'delete from lot_names',
  `insert into lot_names select lot_id, ${['kind', 'ref_id', 'code', 'name'].map((c) => values[c] ?? c).join(', ')}
    from lot_names_now where lot_id = ${FINISHED} and kind = 'fibre'`,
];
/** A dye under another name. */
const renamed = "update dyes set name = 'Weld' where id = 1";
const namesOf = (lotId: number): string => `select count(*) from lot_names where lot_id = ${lotId}`;
/** An entry that reached a closed lot late, and its number. */
const lateEntry = (kind: string, lotId = FINISHED, refersTo = 'null'): string =>
  entry(lotId, { kind: `'${kind}'`, late: 1, client_id: "'a-late-entry'", refers_to_id: refersTo });
const lateId = "(select id from log_entries where client_id = 'a-late-entry')";
/** A reading on the bench, of the entry that `free` wrote. */
const onBench = (other: Record<string, number | string>): string =>
  lateRow('weighings', OPEN, {
    log_entry_id: "(select id from log_entries where client_id = 'a-free-entry')",
    ...other,
  });
const credit = (other: Record<string, number | string>): string =>
  forgotten({
    kind: "'other'",
    quantity: -1,
    quantity_unit: "'piece'",
    cost_minor: -107,
    stock_lot_id: 'null',
    dye_id: 'null',
    ...other,
  });
const noted = (jar: number, was: number, is: number): string =>
  `insert into strength_changes (stock_lot_id, was_ppm, is_ppm, at, by_person_id) values (${jar}, ${was}, ${is}, 1, 1)`;
const strength = (jar: number, is: number): string => `update stock_lots set strength_ppm = ${is} where id = ${jar}`;
const money = (jar: number, amount: number): string =>
  `insert into stock_money (stock_lot_id, kind, amount_minor, reason, at, recorded_at, by_person_id)
    values (${jar}, '${amount < 0 ? 'credit' : 'bill'}', ${amount}, 'as billed', 1, 1, 1)`;
const valuedOtherwise =
  "insert into valuation_changes (valuation_before, valuation, changed_at, changed_by) values ('specific', 'movingAverage', 1, 1)";
const receiptOf = (jar: number): string =>
  `(select id from stock_ledger where stock_lot_id = ${jar} and kind = 'receipt')`;

function guards(): Record<string, Guarded> {
  // Of yellow: counted (700), used before that (701) and after it (702).
  const countedLate = [
    booked({ id: 700, lot_id: 'null', kind: "'stockTake'", reason: "'counted'", at: MONDAY + 500 }),
    booked({ id: 701, lot_id: OPEN, at: MONDAY + 400 }),
    booked({ id: 702, lot_id: OPEN, at: MONDAY + 600 }),
  ];
  const thrownAway = booked({
    id: 703,
    lot_id: 'null',
    kind: "'waste'",
    reason: "'caked'",
    empties: 1,
    at: MONDAY + 900,
  });
  const balance = (other: Record<string, number | string>): string =>
    booked({
      lot_id: 'null',
      kind: "'stockTake'",
      reason: "'balanced'",
      at: MONDAY + 500,
      balances_id: 700,
      caused_by_id: 701,
      ...other,
    });
  const free = entry(OPEN, { kind: "'adjustment'", client_id: "'a-free-entry'" });
  const freeEntry = "(select id from log_entries where client_id = 'a-free-entry')";
  return {
    audit_entries_no_update: { refuses: { 'another door': "update audit_entries set door = 'api'" } },
    audit_entries_no_delete: { refuses: { 'a trace wiped': 'delete from audit_entries' } },
    closed_lots_as_written: {
      refuses: {
        'figures of a lot on the bench': writtenAnew(`lot_id = ${OPEN}`),
        'the figures of one lot under another': writtenAnew(`lot_id = ${OTHER}`),
        'another time': writtenAnew('finished_at = finished_at + 5'),
        'a good lot as abandoned': writtenAnew("status = 'abandoned'"),
        'another day': writtenAnew("closed_on = '2026-01-01'"),
        'the goods of another lot': writtenAnew('dry_mass_mg = 600000'),
      },
      lets: { 'the figures that the record has': writtenAnew('number = number') },
    },
    closed_lots_fixed: {
      refuses: {
        'the figures of one lot under the number of another': [
          'drop trigger closed_lots_no_delete',
          `delete from closed_lots where lot_id = ${OTHER}`,
          `update closed_lots set lot_id = ${OTHER} where lot_id = ${FINISHED}`,
        ],
        ...setEach('closed_lots', `lot_id = ${FINISHED}`, {
          finished_at: 'finished_at + 1',
          closed_on: "'2026-01-01'",
          lot_id: OPEN,
          status: "'abandoned'",
          number: "'26-9999'",
          method_id: 77,
          fibre_id: 77,
          dry_mass_mg: 'dry_mass_mg + 1',
          estimate_minor: 'estimate_minor + 1',
          first_quality: 'first_quality + 1',
          seconds: 'seconds + 1',
          rework: 'rework + 1',
          scrap: 'scrap + 1',
          seconds_value_minor: 'seconds_value_minor + 1',
          dye_minor: 'dye_minor + 1',
          auxiliary_minor: 'auxiliary_minor + 1',
          goods_minor: 'goods_minor + 1',
          labour_minor: 'labour_minor + 1',
          overhead_minor: 'overhead_minor + 1',
          other_minor: 'other_minor + 1',
          wasted_minor: 'wasted_minor + 1',
        }),
      },
      lets: { 'what follows the record': `update closed_lots set dye_minor = dye_minor where lot_id = ${FINISHED}` },
    },
    closed_lots_no_delete: { refuses: { 'a lot out of the reports': 'delete from closed_lots' } },
    colour_readings_made: {
      writes: {
        'a swatch with a new reading is looked at anew': {
          by: again('colour_readings', 'id = 2', {}),
          shown: 'select swatch_id from swatch_changes order by sequence desc limit 1',
          is: [2],
        },
        'a reading of a lot concerns no swatch': {
          by: again('colour_readings', 'id = 4', {}),
          shown: 'select count(*) from swatch_changes',
          is: [3],
        },
      },
    },
    colour_readings_changed: {
      writes: {
        'a swatch whose reading was withdrawn is looked at anew': {
          by: 'update colour_readings set withdrawn_at = 1 where id = 1',
          shown: 'select swatch_id from swatch_changes order by sequence desc limit 1',
          is: [1],
        },
        'a reading of a lot concerns no swatch': {
          by: 'update colour_readings set withdrawn_at = 1 where id = 4',
          shown: 'select count(*) from swatch_changes',
          is: [3],
        },
      },
    },
    swatches_changed: {
      writes: {
        'an archived swatch is left out of predictions': {
          by: 'update swatches set archived_at = 1 where id = 1',
          shown: 'select swatch_id from swatch_changes order by sequence desc limit 1',
          is: [1],
        },
      },
      spare: Object.fromEntries(
        ['revision_id', 'depth_ppm', 'fibre_id', 'method_id'].map((column) => [
          `OF ${column}`,
          'swatches_formula_fixed lets it stay as it is only',
        ]),
      ),
    },
    colour_readings_fixed: {
      refuses: {
        ...setEach('colour_readings', 'id = 1', {
          l: 'l + 1',
          a: 'a + 1',
          b: 'b + 1',
          illuminant: "'D50'",
          observer: "'2'",
          source: "'instrument'",
          swatch_id: 2,
          area_share_ppm: 'null',
          as_typed: "'#336699'",
          read_at: 'read_at + 1',
          read_by: 2,
        }),
        'the reading of another lot': `update colour_readings set lot_id = ${OTHER} where id = 4`,
        'the reading of another order': 'update colour_readings set order_line_id = 2 where id = 5',
      },
      lets: { 'a reading withdrawn': 'update colour_readings set withdrawn_at = 5 where id = 1' },
    },
    colour_readings_no_delete: {
      refuses: {
        'a reading of a swatch': 'delete from colour_readings where id = 1',
        'a reading of a lot': 'delete from colour_readings where id = 4',
        'a reading that came by an import that stands': 'delete from colour_readings where id = 2',
        'a reading of a swatch of another import': [undoing, 'delete from colour_readings where id = 3'],
        'a reading whose number names something else in the import': [
          undoing,
          'delete from colour_readings where id = 1',
        ],
      },
      lets: { 'a reading of an import that is taken back': [undoing, 'delete from colour_readings where id = 2'] },
      spare: { 'OLD.swatch_id IS NULL': 'no row of an import names a swatch without a number' },
    },
    cost_lines_added: {
      refuses: {
        'a forgotten cost that corrects another': forgotten({ corrects_id: 1 }),
        'a forgotten cost that is a correction': forgotten({ correction: "'reversal'" }),
        'a forgotten cost by nobody': forgotten({ written_by: 'null' }),
        'a forgotten cost without a reason': forgotten({ reason: "' '" }),
        'a forgotten cost of nothing': forgotten({ quantity: 0 }),
        'a forgotten cost of less than nothing': forgotten({ quantity: -1, cost_minor: -107 }),
        'a forgotten cost in a lot on the bench': forgotten({ lot_id: OPEN }),
        'powder given back as if it were money': credit({ kind: "'dye'" }),
        'two pieces of money back in one line': credit({ quantity: -2 }),
        'money back by the milligram': credit({ quantity_unit: "'mg'" }),
      },
      lets: {
        'a forgotten cost': forgotten(),
        'money back': credit({}),
        'a cost of a lot on the bench': again('cost_lines', 'id = 1', { lot_id: OPEN }),
      },
    },
    cost_lines_because: {
      refuses: {
        'a correction by nobody': takenBack(1, { written_by: 'null' }),
        'a correction without a reason': takenBack(1, { reason: "' '" }),
        'a correction of nothing': takenBack(1, { lot_id: OPEN, corrects_id: 'null' }),
      },
      lets: {
        'a line taken back whole': takenBack(1),
        'a cost of a lot on the bench': again('cost_lines', 'id = 1', { lot_id: OPEN }),
      },
    },
    cost_lines_finished: {
      refuses: { 'a cost slipped into a finished lot': again('cost_lines', 'id = 1', { ordinal: 903 }) },
      lets: {
        'a forgotten cost': forgotten(),
        'a correction': takenBack(1),
        'a cost of a lot on the bench': again('cost_lines', 'id = 1', { lot_id: OPEN }),
      },
    },
    cost_lines_no_update: { refuses: { 'a cheaper lot': 'update cost_lines set cost_minor = 1' } },
    cost_lines_no_delete: { refuses: { 'a cost less': 'delete from cost_lines' } },
    cost_lines_of_closed: {
      writes: {
        'a cost of a lot on the bench is in no report, and its names are not kept yet': {
          by: again('cost_lines', 'id = 1', { lot_id: OPEN }),
          shown: namesOf(OPEN),
          is: [0],
        },
        ...Object.fromEntries(
          ['dye', 'auxiliary', 'goods', 'labour', 'overhead', 'other'].map((kind) => [
            `a forgotten cost of ${kind} is in the reports, discarded or not`,
            {
              by: [
                `create temp table before as select * from closed_lots where lot_id = ${FINISHED}`,
                forgotten({ kind: `'${kind}'`, cost_minor: 107 }),
                forgotten({ kind: `'${kind}'`, cost_minor: 3, wasted: 1, ordinal: 904 }),
              ],
              shown: `select json_array(n.${kind}_minor - o.${kind}_minor, n.wasted_minor - o.wasted_minor,
                n.dye_minor + n.auxiliary_minor + n.goods_minor + n.labour_minor + n.overhead_minor + n.other_minor
                - o.dye_minor - o.auxiliary_minor - o.goods_minor - o.labour_minor - o.overhead_minor - o.other_minor)
              from closed_lots n, temp.before o where n.lot_id = ${FINISHED}`,
              is: ['[110,3,110]'],
            },
          ]),
        ),
      },
    },
    cost_lines_own_lot: {
      refuses: { 'a correction of another lot’s cost': takenBack(1, { lot_id: OTHER }) },
      lets: {
        'a correction of its own': takenBack(1),
        'a correction of a later lot': takenBack(6),
        'a cost of a lot on the bench': again('cost_lines', 'id = 1', { lot_id: OPEN }),
      },
    },
    cost_lines_replacement: {
      refuses: {
        'a second cost beside the first': insteadOf(1),
        'a second cost beside the first, where another was taken back': [takenBack(2), insteadOf(1)],
      },
      lets: {
        'what is right in place of what was taken back': [takenBack(1), insteadOf(1)],
        'a cost of a lot on the bench': again('cost_lines', 'id = 1', { lot_id: OPEN }),
      },
      spare: { "r.correction = 'reversal'": 'a line that names another was taken back first, or takes it back' },
    },
    cost_lines_replaced_once: {
      refuses: { 'two lines in the place of one': [takenBack(1), insteadOf(1), insteadOf(1, { ordinal: 906 })] },
      lets: {
        'what is right in place of what was taken back': [takenBack(1), insteadOf(1)],
        'one line in the place of another, and one of a second': [
          takenBack(1),
          insteadOf(1),
          takenBack(2, { ordinal: 906 }),
          insteadOf(2, { ordinal: 907 }),
        ],
        'a cost of a lot on the bench': again('cost_lines', 'id = 1', { lot_id: OPEN }),
      },
      spare: { "NEW.correction = 'replacement'": 'a line is taken back once anyway' },
    },
    cost_lines_reversal_alike: {
      refuses: {
        'what was discarded taken back as used': takenBack(1, { wasted: 1 }),
        'another dye': takenBack(1, { dye_id: 77 }),
        'a dye that is an auxiliary': takenBack(1, { auxiliary_id: 1 }),
        'the work of another person': takenBack(4, { person_id: 1 }),
        'the work of another step': takenBack(4, { step_id: 'null' }),
        'another unit': takenBack(1, { quantity_unit: "'ul'" }),
        'another price': takenBack(1, { price_minor: 'price_minor + 1' }),
        'another price for more': takenBack(1, { per_quantity: 'per_quantity * 2' }),
      },
      lets: {
        'a line taken back whole': takenBack(1),
        'a later line taken back whole': takenBack(4),
        'what is right in place of what was taken back': [takenBack(1), insteadOf(1, { price_minor: 1 })],
      },
    },
    cost_lines_how: {
      refuses: {
        'a cost in a finished lot in the guise of a correction': takenBack(1, {
          correction: 'null',
          cost_minor: 100_000,
        }),
      },
      lets: {
        'a line taken back whole': takenBack(1),
        'a cost of a lot on the bench': again('cost_lines', 'id = 1', { lot_id: OPEN }),
      },
      spare: { 'NEW.added = 0': 'a forgotten cost that corrects another is refused by its own guard' },
    },
    cost_lines_reversal: {
      refuses: {
        'a reversal of a reversal': [
          takenBack(1),
          again('cost_lines', "correction = 'reversal'", {
            ordinal: 905,
            quantity: '-quantity',
            cost_minor: '-cost_minor',
            corrects_id: 'id',
          }),
        ],
        'half a quantity': takenBack(1, { quantity: '-quantity / 2' }),
        'more money than was written': takenBack(1, { cost_minor: '-cost_minor * 2' }),
        'labour in place of dye': takenBack(1, { kind: "'labour'" }),
        'the powder of another jar': takenBack(1, { stock_lot_id: BLUE }),
        'one line by the figures of another': [
          forgotten({ quantity: 7, cost_minor: 1 }),
          takenBack(1, { quantity: -7, cost_minor: -1 }),
        ],
      },
      lets: {
        'a line taken back whole': takenBack(1),
        'a cost of a lot on the bench': again('cost_lines', 'id = 1', { lot_id: OPEN }),
      },
    },
    cost_lines_late: {
      refuses: {
        'a cost for a late note': [lateEntry('note'), forgotten({ late_entry_id: lateId })],
        'a cost for a reading that came in time': [
          entry(FINISHED, { kind: "'weighing'", client_id: "'a-late-entry'" }),
          forgotten({ late_entry_id: lateId }),
        ],
        'a cost for the late reading of another lot': [
          lateEntry('weighing', OTHER),
          forgotten({ late_entry_id: lateId }),
        ],
        'a cost for a note, where a reading came late as well': [
          lateEntry('weighing'),
          entry(FINISHED, {}),
          forgotten({ late_entry_id: "(select id from log_entries where client_id = 'one-more-entry')" }),
        ],
        'a late reading from no container': [
          lateEntry('weighing'),
          forgotten({ late_entry_id: lateId, stock_lot_id: 'null' }),
        ],
      },
      lets: {
        'what was weighed': [lateEntry('weighing'), forgotten({ late_entry_id: lateId })],
        'what was voided': [
          lateEntry('voiding', FINISHED, ofLot(FINISHED, 'log_entries')),
          forgotten({ late_entry_id: lateId }),
        ],
        'a forgotten cost': forgotten(),
      },
    },
    imports_no_delete: { refuses: { 'an import without a trace': 'delete from imports where id = 2' } },
    log_entries_no_update: { refuses: { 'another reading': "update log_entries set value_json = '{}'" } },
    log_entries_no_delete: { refuses: { 'a mishap forgotten': 'delete from log_entries' } },
    log_entries_late: {
      refuses: { 'an entry that is late of a lot on the bench': entry(OPEN, { late: 1 }) },
      lets: { 'an entry in time': entry(OPEN, {}), 'an entry of a closed lot': entry(FINISHED, { late: 1 }) },
    },
    log_entries_of_closed: {
      writes: {
        'who wrote a late note keeps the name of then': {
          by: [again('people', 'id = 2', { id: 77, name: "'Ana'" }), entry(FINISHED, { late: 1, by_person_id: 77 })],
          shown: `select name from lot_names where lot_id = ${FINISHED} and kind = 'person' and ref_id = 77`,
          is: ['Ana'],
        },
        'names of a lot on the bench are not kept yet': { by: entry(OPEN, {}), shown: namesOf(OPEN), is: [0] },
      },
    },
    log_entries_same_lot: {
      refuses: {
        'a step of another lot': entry(OPEN, { kind: "'stepEnd'", step_id: ofLot(OTHER, 'lot_steps') }),
        'the first step of all': entry(OPEN, { kind: "'stepEnd'", step_id: ofLot(FINISHED, 'lot_steps') }),
        'an entry of another lot': entry(OPEN, { kind: "'voiding'", refers_to_id: ofLot(OTHER, 'log_entries') }),
      },
      lets: {
        'a note': entry(OPEN, {}),
        'a step of its own': entry(OPEN, { kind: "'stepEnd'", step_id: ofLot(OPEN, 'lot_steps') }),
        'an entry of its own': entry(OPEN, { kind: "'voiding'", refers_to_id: ofLot(OPEN, 'log_entries') }),
      },
    },
    lot_adjustments_no_update: { refuses: { 'another way out': "update lot_adjustments set way = 'deeper'" } },
    lot_adjustments_no_delete: { refuses: { 'a way out unsaid': 'delete from lot_adjustments' } },
    lot_adjustments_finished: {
      refuses: {
        'a way out of a finished lot': [free, lateRow('lot_adjustments', FINISHED, { log_entry_id: freeEntry })],
      },
      lets: { 'a way out on the bench': [free, lateRow('lot_adjustments', OPEN, { log_entry_id: freeEntry })] },
    },
    lot_closings_as_closed: {
      refuses: {
        'a closing said to be of an upgrade': closedAnew("kept = 'atUpgrade'"),
        'another day': closedAnew("closed_on = '2026-01-01'"),
        'another zone': closedAnew("zone = 'Asia/Tokyo'"),
        'another currency': closedAnew("currency = 'JPY'"),
        'other goods': closedAnew('dry_mass_mg = 1'),
        'another tolerance': closedAnew('weighing_tolerance_ppm = 1'),
        'the goods of another lot': closedAnew(`lot_id = ${ABANDONED}`),
      },
      lets: { 'what the record has': closedAnew('kept = kept') },
    },
    lot_closings_no_update: { refuses: { 'another day': "update lot_closings set closed_on = '2026-01-01'" } },
    lot_closings_no_delete: { refuses: { 'a closing less': 'delete from lot_closings' } },
    lot_line_closings_as_closed: {
      refuses: {
        'a customer of a lot on the bench': `insert into lot_line_closings select * from lot_lines_now where lot_id = ${OPEN}`,
      },
      lets: {
        'whom a closed lot was for': [
          'drop trigger lot_line_closings_no_delete',
          'delete from lot_line_closings',
          `insert into lot_line_closings select * from lot_lines_now where lot_id = ${FINISHED}`,
        ],
      },
    },
    lot_line_closings_no_update: { refuses: { 'another price': 'update lot_line_closings set price_minor = 1' } },
    lot_line_closings_no_delete: { refuses: { 'a customer less': 'delete from lot_line_closings' } },
    lot_names_as_closed: {
      refuses: {
        'a name in a lot on the bench': `insert into lot_names select * from lot_names_now where lot_id = ${OPEN} and kind = 'fibre'`,
        'another name': namedAnew({ name: "'Hemp'" }),
        'another code': namedAnew({ code: "'H'" }),
        'another number': namedAnew({ ref_id: 77 }),
        'another kind': namedAnew({ kind: "'recipe'" }),
        'what is in another lot only': [
          again('cost_lines', 'id = 1', { lot_id: OPEN, dye_id: 77 }),
          `insert into lot_names values (${FINISHED}, 'dye', 77, 'R1', 'Red')`,
        ],
      },
      lets: { 'what it is called': namedAnew({}) },
    },
    lot_names_no_update: { refuses: { 'another name': "update lot_names set name = 'Hemp'" } },
    lot_names_no_delete: { refuses: { 'a name less': 'delete from lot_names' } },
    lot_colours_no_update: { refuses: { 'another depth': 'update lot_colours set depth_ppm = 1' } },
    lot_colours_no_delete: { refuses: { 'a colour less': 'delete from lot_colours' } },
    lot_colours_only_planned: {
      refuses: { 'a colour more while dyeing': lateRow('lot_colours', OPEN, { ordinal: 9 }) },
      lets: { 'a colour of a plan': lateRow('lot_colours', PLANNED, { ordinal: 9 }) },
    },
    lot_components_no_update: { refuses: { 'another mass': 'update lot_components set planned_mass_mg = 1' } },
    lot_components_no_delete: { refuses: { 'a line less': 'delete from lot_components' } },
    lot_components_only_planned: {
      refuses: { 'a line more while dyeing': lateRow('lot_components', OPEN, { ordinal: 9 }) },
      lets: { 'a line of a plan': lateRow('lot_components', PLANNED, { ordinal: 9 }) },
    },
    lot_labour_no_update: { refuses: { 'fewer hours': 'update lot_labour set duration_s = 1' } },
    lot_labour_no_delete: { refuses: { 'work that nobody did': 'delete from lot_labour' } },
    lot_labour_finished: {
      refuses: { 'hours in a finished lot': [free, lateRow('lot_labour', FINISHED, { log_entry_id: freeEntry })] },
      lets: { 'hours on the bench': [free, lateRow('lot_labour', OPEN, { log_entry_id: freeEntry })] },
    },
    lot_lines_no_update: { refuses: { 'other pieces': 'update lot_lines set pieces = 1' } },
    lot_lines_no_delete: { refuses: { 'a customer less': 'delete from lot_lines' } },
    lot_lines_finished: {
      refuses: { 'an order served by a finished lot': lateRow('lot_lines', FINISHED, { order_line_id: 2 }) },
      lets: { 'an order served by a lot on the bench': lateRow('lot_lines', OPEN, { order_line_id: 2 }) },
    },
    lot_outcomes_no_update: { refuses: { 'more first quality': 'update lot_outcomes set first_quality = 24' } },
    lot_outcomes_no_delete: { refuses: { 'no outcome': 'delete from lot_outcomes' } },
    lot_outcomes_finished: {
      refuses: { 'an outcome of a lot that was given up': lateRow('lot_outcomes', ABANDONED, {}) },
      lets: { 'the outcome of a lot on the bench': lateRow('lot_outcomes', OPEN, {}) },
    },
    lot_outcomes_seconds_value: {
      refuses: {
        'money for no seconds': lateRow('lot_outcomes', OPEN, { seconds: 0, seconds_value_minor: 500 }),
      },
      lets: {
        'money for seconds': lateRow('lot_outcomes', OPEN, { seconds: 2, seconds_value_minor: 500 }),
        'no seconds and no money': lateRow('lot_outcomes', OPEN, { seconds: 0, seconds_value_minor: 0 }),
      },
    },
    lot_reworks_no_update: { refuses: { 'the fault of another lot': `update lot_reworks set of_lot_id = ${OTHER}` } },
    lot_reworks_no_delete: { refuses: { 'no rework': 'delete from lot_reworks' } },
    lot_steps_no_update: { refuses: { 'a shorter step': 'update lot_steps set planned_duration_s = 1' } },
    lot_steps_no_delete: { refuses: { 'a step less': 'delete from lot_steps' } },
    lot_steps_only_planned: {
      refuses: { 'a step more while dyeing': lateRow('lot_steps', OPEN, { ordinal: 9 }) },
      lets: { 'a step of a plan': lateRow('lot_steps', PLANNED, { ordinal: 9 }) },
    },
    lot_targets_no_update: { refuses: { 'another target': 'update lot_targets set target_mass_mg = 1' } },
    lot_targets_no_delete: { refuses: { 'no target': 'delete from lot_targets' } },
    lot_targets_finished: {
      refuses: { 'a target in a finished lot': lateRow('lot_targets', FINISHED, { component_id: 1 }) },
      lets: { 'a target on the bench': lateRow('lot_targets', OPEN, { component_id: 1 }) },
    },
    lots_closed: {
      writes: {
        'a lot that closes is in the reports': {
          by: `update lots set status = 'abandoned', finished_at = 9 where id = ${OPEN}`,
          shown: `select count(*) from closed_lots where lot_id = ${OPEN} and finished_at = 9 and status = 'abandoned'`,
          is: [1],
        },
        'a lot that begins is not': {
          by: `update lots set status = 'onBench', finished_at = null where id = ${PLANNED}`,
          shown: 'select count(*) from closed_lots',
          is: [3],
        },
      },
      spare: { 'OLD.finished_at IS NULL': 'lots_finished lets no closed lot close again' },
    },
    lots_finished: {
      refuses: { 'a finished lot on the bench again': `update lots set planned_for_on = null where id = ${FINISHED}` },
      lets: { 'another day for a plan': `update lots set planned_for_on = '2026-04-01' where id = ${PLANNED}` },
    },
    lots_never_back: {
      refuses: { 'work that never was': `update lots set status = 'planned' where id = ${OPEN}` },
      lets: {
        'a plan that stays one': `update lots set status = 'planned' where id = ${PLANNED}`,
        'a lot on the bench that stays there': `update lots set status = 'onBench' where id = ${OPEN}`,
      },
    },
    lots_no_delete: { refuses: { 'a number missing': `delete from lots where id = ${PLANNED}` } },
    lots_only_opened: {
      refuses: { 'a lot that nobody dyed': again('lots', 'id = 1', { number: "'26-0006'" }) },
      lets: { 'a plan': again('lots', `id = ${PLANNED}`, { number: "'26-0006'" }) },
    },
    lots_plan_fixed: {
      refuses: setEach('lots', `id = ${OPEN}`, {
        number: "'26-9999'",
        method_id: 77,
        fibre_id: 77,
        goods_text: "'other goods'",
        pieces: 1,
        dry_mass_mg: 1,
        goods_owner: "'studio'",
        goods_stock_lot_id: YELLOW,
        mass_found: "'stated'",
        coverage: "'eachOverItsShare'",
        bath_ul: 1,
        soak_ul: 1,
        loss_ppm: 1,
        readability_mg: 1,
        estimate_minor: 1,
        plan_json: "'{}'",
        planned_at: 1,
        planned_by: 2,
      }),
    },
    questions_asked_once: {
      refuses: {
        ...setEach('questions', 'id = 1', {
          id: 9,
          kind: "'another'",
          asks: "'bench'",
          lot_id: OTHER,
          stock_lot_id: 1,
          log_entry_id: 1,
          ledger_entry_id: 1,
          words: "'Never mind.'",
          details_json: "'[]'",
          asked_at: 9,
        }),
        'another answer': "update questions set answer = 'undone' where id = 2",
      },
      lets: {
        'an answer': "update questions set answer = 'stands', answered_at = 3, answered_by = 1 where id = 1",
      },
    },
    questions_no_delete: { refuses: { 'a question less': 'delete from questions where id = 1' } },
    recipe_components_closed: {
      refuses: {
        'a dye more in the formula of a swatch': again('recipe_components', 'revision_id = 2', {
          ordinal: 9,
          dye_id: 77,
        }),
        'a dye more in the formula of a lot': again('recipe_components', 'revision_id = 3', { ordinal: 9, dye_id: 77 }),
      },
      lets: { 'a formula being written': again('recipe_components', 'revision_id = 4', { ordinal: 9, dye_id: 77 }) },
    },
    recipe_components_no_update: { refuses: { 'another share': 'update recipe_components set share_ppm = 1' } },
    recipe_components_no_delete: {
      refuses: {
        'a dye less': 'delete from recipe_components where revision_id = 4',
        'a dye less in an import that stands': 'delete from recipe_components where revision_id = 5',
        'a dye less in another import': [undoing, 'delete from recipe_components where revision_id = 6'],
      },
      lets: { 'an import taken back': [undoing, 'delete from recipe_components where revision_id = 5'] },
    },
    recipe_revisions_no_update: { refuses: { 'another depth': 'update recipe_revisions set total_depth_ppm = 1' } },
    recipe_revisions_no_delete: {
      refuses: {
        'a formula less': 'delete from recipe_revisions where id = 4',
        'a formula of an import that stands': 'delete from recipe_revisions where id = 5',
        'a formula of another import': [undoing, 'delete from recipe_revisions where id = 6'],
      },
      lets: {
        'an import taken back': [
          undoing,
          'delete from recipe_components where revision_id = 5',
          'delete from recipe_revisions where id = 5',
        ],
      },
    },
    sampling_pieces_formula: {
      refuses: setEach('sampling_pieces', 'id = 2', {
        depth_ppm: 1,
        shares_ppm: "'[]'",
        plan_id: 2,
        ordinal: 9,
      }),
      lets: { 'what came out': "update sampling_pieces set as_typed = '#336699' where id = 2" },
    },
    sampling_pieces_kept: {
      refuses: { 'another colour of a swatch': 'update sampling_pieces set l = 1 where id = 1' },
      lets: { 'what came out': "update sampling_pieces set as_typed = '#336699' where id = 2" },
    },
    stock_ledger_balance: {
      refuses: {
        'a balance without a cause': [...countedLate, balance({ caused_by_id: 'null' })],
        'a cause without a balance': [...countedLate, balance({ balances_id: 'null' })],
        'an issue that empties': booked({ lot_id: OPEN, empties: 1 }),
        'powder used under the name of a balance': [...countedLate, balance({ kind: "'issue'" })],
        'powder spilt under the name of a balance': [...countedLate, balance({ kind: "'waste'" })],
        'another entry as the count of the moment': [...countedLate, balance({ balances_id: 701 })],
        'the count of another jar': [...countedLate, balance({ stock_lot_id: BLUE, caused_by_id: receiptOf(BLUE) })],
        'the count of another time': [...countedLate, balance({ at: MONDAY + 501 })],
        'a use as if it were a count': [
          ...countedLate,
          balance({ balances_id: 701, at: MONDAY + 400, caused_by_id: receiptOf(YELLOW) }),
        ],
        'what happened after the count': [...countedLate, balance({ caused_by_id: 702 })],
        'what happened to another jar': [...countedLate, balance({ caused_by_id: receiptOf(BLUE) })],
      },
      lets: {
        'the balance of a count': [...countedLate, balance({})],
        'the balance of a jar thrown away': [
          ...countedLate,
          thrownAway,
          balance({ kind: "'waste'", empties: 1, balances_id: 703, at: MONDAY + 900 }),
        ],
        'a jar thrown away': thrownAway,
        'an issue': booked({ lot_id: OPEN }),
      },
    },
    stock_ledger_finished_lot: {
      refuses: {
        'powder booked to a finished lot': booked({}),
        'powder booked where another jar was corrected': [takenBack(2), booked({})],
        'powder booked where another lot was corrected': [takenBack(6), booked({})],
        'powder booked where something was only added': [forgotten({ quantity: 7 }), booked({})],
        'powder booked long after a correction': [takenBack(1), booked({ recorded_at: 6 })],
        'waste with a correction': [takenBack(1), booked({ kind: "'waste'", reason: "'spilt'" })],
        'an addition of another lot': [forgotten({ lot_id: OTHER }), booked({})],
        'an addition from another jar': [forgotten({ stock_lot_id: BLUE }), booked({})],
        'powder that was issued when the lot was closed': booked({ recorded_at: MONDAY }),
        'an addition of another day': [forgotten(), booked({ recorded_at: 6 })],
        'more powder than was added': [forgotten(), booked({ quantity: 'quantity * 2' })],
        'waste with an addition': [forgotten(), booked({ kind: "'waste'", reason: "'spilt'" })],
      },
      lets: {
        'powder of a correction': [takenBack(1), booked({})],
        'powder of an addition': [forgotten(), booked({})],
        'powder of a reading that came late': [
          lateEntry('weighing'),
          forgotten({ late_entry_id: lateId, quantity: 7 }),
          booked({}),
        ],
        'powder for a lot on the bench': booked({ lot_id: OPEN }),
        'powder for no lot': booked({ lot_id: 'null' }),
      },
      spare: { 'NEW.lot_id IS NOT NULL': 'what is booked to no lot is booked to no finished one' },
    },
    stock_ledger_no_update: { refuses: { 'less powder used': 'update stock_ledger set quantity = -1' } },
    stock_ledger_no_delete: {
      refuses: {
        'a receipt less': `delete from stock_ledger where stock_lot_id = ${YELLOW} and kind = 'receipt'`,
        'a receipt of an import that stands': 'delete from stock_ledger where id = 400',
        'a receipt of another import': [undoing, 'delete from stock_ledger where id = 500'],
        'a receipt whose number names something else in the import': [
          undoing,
          'delete from stock_ledger where id = 600',
        ],
        'a jar that was used since': [
          booked({ lot_id: 'null', stock_lot_id: 4 }),
          undoing,
          'delete from stock_ledger where id = 400',
        ],
        'a jar that was counted since': [
          booked({ lot_id: 'null', stock_lot_id: 4, kind: "'stockTake'", reason: "'counted'" }),
          undoing,
          'delete from stock_ledger where id = 400',
        ],
        'a jar that was used with the words of an import': [
          booked({ lot_id: 'null', stock_lot_id: 4, reason: "'brought over'" }),
          undoing,
          'delete from stock_ledger where id = 400',
        ],
      },
      lets: {
        'an import taken back': [undoing, 'delete from stock_ledger where id = 400'],
        'an import with its count taken back': [
          booked({ lot_id: 'null', stock_lot_id: 4, kind: "'stockTake'", reason: "'brought over'" }),
          undoing,
          'delete from stock_ledger where id = 400',
        ],
      },
    },
    stock_ledger_reversal: {
      refuses: {
        'an issue of another jar': booked({ ...back, stock_lot_id: BLUE }),
        'half an issue': booked({ ...back, quantity: 'quantity / -2' }),
        'a reversal of a reversal': [
          booked(back),
          again('stock_ledger', "kind = 'reversal'", { quantity: '-quantity', reverses_id: 'id' }),
        ],
        'one issue by the figures of another': [
          booked({ lot_id: OPEN, quantity: -50 }),
          booked({ ...back, quantity: 50 }),
        ],
      },
      lets: { 'an issue taken back': booked(back), 'an issue': booked({ lot_id: OPEN }) },
    },
    stock_lot_events_no_update: { refuses: { 'another reason': "update stock_lot_events set reason = 'none'" } },
    stock_lot_events_no_delete: { refuses: { 'a recall forgotten': 'delete from stock_lot_events' } },
    stock_lots_receipt_fixed: {
      refuses: {
        ...setEach('stock_lots', `id = ${YELLOW}`, {
          price_minor: 1,
          freight_minor: 1,
          received_quantity: 1,
          unit: "'ul'",
          kind: "'fibre'",
          dye_id: 77,
          auxiliary_id: 1,
          fibre_id: 1,
          source_stock_lot_id: BLUE,
          conc_ppm: 1,
        }),
      },
      lets: { 'the same price again': `update stock_lots set price_minor = price_minor where id = ${YELLOW}` },
    },
    auxiliaries_renamed: {
      writes: {
        'an auxiliary under another code': {
          by: "update auxiliaries set code = lower(code) || 'x' where id = 1",
          shown: "select ref_id from renamed_things where kind = 'auxiliary'",
          is: [1],
        },
        'an auxiliary under another name': {
          by: "update auxiliaries set name = 'Ash' where id = 1",
          shown: "select ref_id from renamed_things where kind = 'auxiliary'",
          is: [1],
        },
        'what is not a name renames nothing': {
          by: "update auxiliaries set grade = 'fine'",
          shown: 'select count(*) from renamed_things',
          is: [0],
        },
      },
    },
    dyes_renamed: {
      writes: {
        'a capital more in a code': {
          by: 'update dyes set code = iif(code = lower(code) collate binary, upper(code), lower(code)) where id = 1',
          shown: "select ref_id from renamed_things where kind = 'dye'",
          is: [1],
        },
        'a dye under another name': {
          by: "update dyes set name = 'Weld' where id = 1",
          shown: "select ref_id from renamed_things where kind = 'dye'",
          is: [1],
        },
        'what is not a name renames nothing': {
          by: 'update dyes set version = version + 1',
          shown: 'select count(*) from renamed_things',
          is: [0],
        },
      },
    },
    people_renamed: {
      writes: {
        'a person under another name': {
          by: "update people set name = 'Somebody' where id = 1",
          shown: "select ref_id from renamed_things where kind = 'person'",
          is: [1],
        },
        'what is not a name renames nothing': {
          by: 'update people set labour_rate_minor_per_hour = 1',
          shown: 'select count(*) from renamed_things',
          is: [0],
        },
      },
    },
    stock_lots_renamed: {
      writes: {
        'a container with another maker’s lot': {
          by: "update stock_lots set maker_lot = 'M-9' where id = 1",
          shown: "select ref_id from renamed_things where kind = 'stockLot'",
          is: [1],
        },
        'a container under another code': {
          by: "update stock_lots set code = 'Z-9' where id = 1",
          shown: "select ref_id from renamed_things where kind = 'stockLot'",
          is: [1],
        },
        'what is not a name renames nothing': {
          by: "update stock_lots set note = 'opened'",
          shown: 'select count(*) from renamed_things',
          is: [0],
        },
      },
    },
    fibres_renamed: {
      writes: {
        'goods under another name': {
          by: "update fibres set name = 'Another' where id = 1",
          shown: "select ref_id from renamed_things where kind = 'fibre'",
          is: [1],
        },
        'what is not a name renames nothing': {
          by: 'update fibres set version = version + 1',
          shown: 'select count(*) from renamed_things',
          is: [0],
        },
      },
    },
    methods_renamed: {
      writes: {
        'a method under another name': {
          by: "update methods set name = 'Another' where id = 1",
          shown: "select ref_id from renamed_things where kind = 'method'",
          is: [1],
        },
        'what is not a name renames nothing': {
          by: 'update methods set version = version + 1',
          shown: 'select count(*) from renamed_things',
          is: [0],
        },
      },
    },
    recipes_renamed: {
      writes: {
        'a recipe under another name': {
          by: "update recipes set name = 'Another' where id = 1",
          shown: "select ref_id from renamed_things where kind = 'recipe'",
          is: [1],
        },
        'what is not a name renames nothing': {
          by: 'update recipes set version = version + 1',
          shown: 'select count(*) from renamed_things',
          is: [0],
        },
      },
    },
    renamed_things_no_update: {
      refuses: { 'another thing than was renamed': [renamed, 'update renamed_things set ref_id = 2'] },
    },
    renamed_things_no_delete: {
      refuses: { 'a file with the names of today': [renamed, 'delete from renamed_things'] },
    },
    stock_lots_strength_noted: {
      refuses: {
        'another strength without a note': strength(YELLOW, 900_000),
        'another strength than noted': [noted(YELLOW, 1_000_000, 900_000), strength(YELLOW, 800_000)],
        'a strength noted before the last': [
          noted(YELLOW, 1_000_000, 900_000),
          noted(YELLOW, 1_000_000, 800_000),
          strength(YELLOW, 900_000),
        ],
        'a strength noted of another jar': [noted(YELLOW, 1_000_000, 900_000), strength(BLUE, 900_000)],
      },
      lets: {
        'a strength that was noted': [noted(YELLOW, 1_000_000, 900_000), strength(YELLOW, 900_000)],
        'the same strength again': strength(YELLOW, 1_000_000),
      },
      spare: { 'c.was_ppm = OLD.strength_ppm': 'a note begins with the strength that stands' },
    },
    stock_money_as_bought: {
      refuses: { 'a bill for a solution': money(6, 100) },
      lets: { 'a bill for a jar': money(YELLOW, 100) },
    },
    // Yellow cost 42.50, blue 39.00.
    stock_money_no_more_than_paid: {
      refuses: {
        'more money back than was paid': money(YELLOW, -4_251),
        'more than was paid for this jar': money(BLUE, -3_901),
        'more in two parts than was paid': [money(YELLOW, -4_250), money(YELLOW, -1)],
        'more than was paid, where another jar cost more later': [money(YELLOW, 10_000), money(BLUE, -3_901)],
      },
      lets: {
        'all of it back': money(YELLOW, -4_250),
        'a bill and all of it back': [money(BLUE, 100), money(BLUE, -4_000)],
      },
    },
    stock_money_no_update: {
      refuses: { 'another bill': [money(YELLOW, 100), 'update stock_money set amount_minor = 1'] },
    },
    stock_money_no_delete: { refuses: { 'a bill less': [money(YELLOW, 100), 'delete from stock_money'] } },
    strength_changes_from_what_stands: {
      refuses: { 'a strength that the jar never had': noted(YELLOW, 900_000, 800_000) },
      lets: {
        'one change after the other': [
          noted(BLUE, 1_000_000, 900_000),
          strength(BLUE, 900_000),
          noted(BLUE, 900_000, 800_000),
        ],
        'a change of another jar': noted(YELLOW, 1_000_000, 800_000),
      },
    },
    strength_changes_no_update: {
      refuses: {
        'another strength then': [noted(YELLOW, 1_000_000, 900_000), 'update strength_changes set is_ppm = 1'],
      },
    },
    strength_changes_no_delete: {
      refuses: { 'no change at all': [noted(YELLOW, 1_000_000, 900_000), 'delete from strength_changes'] },
    },
    code_apps_once: {
      refuses: {
        'a code used twice': [codeApp, 'update code_apps set last_step = 7'],
        'a code of before the last': [codeApp, 'update code_apps set last_step = 6'],
      },
      lets: { 'the next code': [codeApp, 'update code_apps set last_step = 8'] },
    },
    recovery_codes_once: {
      refuses: {
        'a code used twice': [paperCode('5'), 'update recovery_codes set used_at = 6'],
        'a code that is good again': [paperCode('5'), 'update recovery_codes set used_at = null'],
      },
      lets: { 'the first use': [paperCode('null'), 'update recovery_codes set used_at = 6'] },
    },
    restores_once: {
      refuses: {
        'a studio opened twice': [restored('opened_at = 2, opened_by = 1'), 'update restores set opened_at = 3'],
        'a restore settled twice': [
          restored('opened_at = 2, opened_by = 1, settled_at = 3'),
          'update restores set settled_at = 4',
        ],
      },
      lets: {
        'the first way in': [restored('archive_made_at = 1'), 'update restores set opened_at = 2, opened_by = 1'],
        'what is settled after it': [restored('opened_at = 2, opened_by = 1'), 'update restores set settled_at = 3'],
      },
    },
    restores_no_delete: { refuses: { 'no restore at all': [restored('archive_made_at = 1'), 'delete from restores'] } },
    record_links_no_update: {
      refuses: { 'a link of its own making': 'update record_links set link = zeroblob(32) where id = 1' },
    },
    record_links_no_delete: { refuses: { 'a shorter chain': 'delete from record_links where id = 1' } },
    table_sums_no_delete: {
      refuses: { 'a table of which no sum is kept': "delete from table_sums where table_name = 'people'" },
      lets: {
        'the sum of a table that is no more': [
          "insert into table_sums (table_name, state) values ('no table', zeroblob(48))",
          "delete from table_sums where table_name = 'no table'",
        ],
        'a sum by the name of an index': [
          "insert into table_sums (table_name, state) values ('trials_kind', zeroblob(48))",
          "delete from table_sums where table_name = 'trials_kind'",
        ],
      },
    },
    proof_findings_no_update: {
      refuses: {
        'another finding': [
          "insert into proof_findings (found_at, words) values (1, 'people 3')",
          "update proof_findings set words = 'nothing'",
        ],
      },
    },
    proof_findings_no_delete: {
      refuses: {
        'no finding at all': [
          "insert into proof_findings (found_at, words) values (1, 'people 3')",
          'delete from proof_findings',
        ],
      },
    },
    trials_no_update: { refuses: { 'a trial that passed after all': [tried, "update trials set failure = ''"] } },
    trials_no_delete: { refuses: { 'no trial at all': [tried, 'delete from trials'] } },
    valuation_changes_no_update: {
      refuses: { 'another day': [valuedOtherwise, 'update valuation_changes set changed_at = 1'] },
    },
    valuation_changes_no_delete: {
      refuses: { 'no change at all': [valuedOtherwise, 'delete from valuation_changes'] },
    },
    swatches_formula_fixed: {
      refuses: setEach('swatches', 'id = 1', {
        revision_id: 2,
        depth_ppm: 1,
        fibre_id: 77,
        method_id: 77,
        lot_id: FINISHED,
      }),
      lets: { 'the same depth again': 'update swatches set depth_ppm = depth_ppm where id = 1' },
    },
    weighings_no_update: { refuses: { 'a smaller reading': 'update weighings set mass_mg = 1' } },
    weighings_no_delete: { refuses: { 'a reading less': 'delete from weighings' } },
    weighings_finished: {
      refuses: {
        'a reading in a finished lot': [free, lateRow('weighings', FINISHED, { log_entry_id: freeEntry })],
        'a reading of a late note': [lateEntry('note'), lateRow('weighings', FINISHED, { log_entry_id: lateId })],
        'a late reading of another lot': [
          lateEntry('weighing', OTHER),
          lateRow('weighings', FINISHED, { log_entry_id: lateId }),
        ],
        'a reading that came in time, it says': [
          entry(FINISHED, { kind: "'weighing'", client_id: "'a-late-entry'" }),
          lateRow('weighings', FINISHED, { log_entry_id: lateId }),
        ],
        'a reading beside one that came late': [
          free,
          lateEntry('weighing'),
          lateRow('weighings', FINISHED, { log_entry_id: freeEntry }),
        ],
      },
      lets: {
        'a reading on the bench': [free, lateRow('weighings', OPEN, { log_entry_id: freeEntry })],
        'a reading that came late': [lateEntry('weighing'), lateRow('weighings', FINISHED, { log_entry_id: lateId })],
      },
    },
    weighings_of_closed: {
      writes: {
        'a jar that was weighed from keeps the name of then': {
          by: [lateEntry('weighing'), lateRow('weighings', FINISHED, { log_entry_id: lateId, stock_lot_id: 4 })],
          shown: `select code from lot_names where lot_id = ${FINISHED} and kind = 'stockLot' and ref_id = 4`,
          is: ['Y1-B'],
        },
        'names of a lot on the bench are not kept yet': {
          by: [free, lateRow('weighings', OPEN, { log_entry_id: freeEntry })],
          shown: namesOf(OPEN),
          is: [0],
        },
      },
    },
    weighings_with_strength: {
      refuses: {
        'a reading of powder of no strength': [free, onBench({ strength_ppm: 'null' })],
        'a strength said to be of an upgrade': [free, onBench({ strength_kept: "'atUpgrade'" })],
        'a solution of no concentration': [free, onBench({ stock_lot_id: 6 })],
      },
      lets: {
        'a reading of powder': [free, onBench({})],
        'a reading of a solution': [free, onBench({ stock_lot_id: 6, conc_ppm: 10_000 })],
      },
    },
  };
}
const tried =
  "insert into trials (kind, started_at, finished_at, file, failure) values ('archive', 1, 2, 'x.zip', 'gone')";
const codeApp = "insert into code_apps (person_id, sealed_secret, begun_at, last_step) values (1, 'x', 1, 7)";
const paperCode = (usedAt: string): string =>
  `insert into recovery_codes (person_id, code_hash, made_at, used_at) values (1, 'x', 1, ${usedAt})`;
/** A studio that came out of an archive, and what became of it since. */
const restored = (since: string): string =>
  `insert into restores (restored_at, archive, archive_made_at, compared) values (1, 'x.zip', 1, 0); update restores set ${since}`;
/** What takes the issue of yellow to the finished lot back. It is booked to no lot, since the lot is finished. */
const back = { kind: "'reversal'", reverses_id: 'id', quantity: '-quantity', lot_id: 'null' };

/** What becomes of a statement, which is taken back afterwards. */
function outcomeOf(sqlite: Sqlite, by: Sql, shown?: string): unknown {
  const statements = typeof by === 'string' ? [by] : by;
  sqlite.exec('savepoint tried');
  try {
    for (const statement of statements.slice(0, -1)) sqlite.exec(statement);
    const { changes } = sqlite.prepare(statements.at(-1) ?? '').run();
    if (shown !== undefined) return sqlite.prepare(shown).pluck().all();
    return changes > 0 ? 'done' : 'nothing to do';
  } catch (error) {
    return (error as Error).message;
  } finally {
    sqlite.exec('rollback to tried; release tried');
  }
}

/** Every statement about a trigger, by what it means, with what must become of it. */
const trialsOf = (
  row: Guarded,
  words: string | undefined,
): { what: string; by: Sql; shown?: string; is: unknown }[] => [
  ...Object.entries(row.refuses ?? {}).map(([what, by]) => ({ what, by, is: words })),
  ...Object.entries(row.lets ?? {}).map(([what, by]) => ({ what, by, is: 'done' })),
  ...Object.entries(row.writes ?? {}).map(([what, written]) => ({ what, ...written })),
];

/** What does not come out as it must, by what it means. */
function* amiss(
  sqlite: Sqlite,
  row: Guarded,
  words: string | undefined,
): Generator<{ what: string; is: unknown; was: unknown }> {
  for (const { what, by, shown, is } of trialsOf(row, words)) {
    const was = outcomeOf(sqlite, by, shown);
    if (JSON.stringify(is) !== JSON.stringify(was)) yield { what, is, was };
  }
}

describe('the guards of the database', () => {
  async function opened(): Promise<{ sqlite: Sqlite; triggers: Trigger[]; table: Record<string, Guarded> }> {
    kept ??= guardedStudio();
    const { sqlite } = openDatabase(await kept);
    onTestFinished(() => {
      sqlite.close();
    });
    return { sqlite, triggers: triggersOf(sqlite), table: guards() };
  }

  test('each has its row, with a statement that it refuses or whose work it does', async () => {
    const { triggers, table } = await opened();
    expect(Object.keys(table).sort()).toEqual(triggers.map((t) => t.name).sort());
    for (const { name, sql } of triggers) {
      const { refuses = {}, writes = {} } = table[name] ?? {};
      expect(Object.keys(wordsOf(sql) === undefined ? writes : refuses), name).not.toEqual([]);
    }
  });

  test('each refuses in its own words, and lets the rest through', async () => {
    const { sqlite, triggers, table } = await opened();
    for (const { name, sql } of triggers) {
      expect([...amiss(sqlite, table[name] ?? {}, wordsOf(sql))], name).toEqual([]);
    }
  });

  test('without it, or with a part of its condition left out, a statement tells', { timeout: 180_000 }, async () => {
    const { sqlite, triggers, table } = await opened();
    const untold: string[] = [];
    for (const { name, sql } of triggers) {
      const row = table[name] ?? {};
      const { spare = {} } = row;
      const tried = [{ without: 'the trigger', sql: '' }, ...weakened(sql)];
      for (const weaker of tried) {
        sqlite.exec(`savepoint weakened; drop trigger ${name}; ${weaker.sql}`);
        const told = !amiss(sqlite, row, wordsOf(sql)).next().done;
        sqlite.exec('rollback to weakened; release weakened');
        if (!told && !(weaker.without in spare)) untold.push(`${name} without ${weaker.without}`);
        if (told && weaker.without in spare) untold.push(`${name}: ${weaker.without} is not spare`);
      }
      for (const part of Object.keys(spare))
        if (!tried.some((w) => w.without === part)) untold.push(`${name} has no part ${part}`);
    }
    expect(untold).toEqual([]);
  });
});
