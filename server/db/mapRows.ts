import { Column, getTableName, is, Param, Placeholder, SQL, Subquery } from 'drizzle-orm';

/* drizzle finds out what each column is, and where its value belongs, at every cell of every row: more than half of the time of a
   long list. Here it is found out once a query, and a row is then its values in their places. The answers are the same to the
   last value (tests/db/mapRows.test.ts holds the two against each other). */

/** A column of a select as drizzle lists it: where its value goes, by name, and what the value is read with. */
export interface SelectedField {
  path: string[];
  field: unknown;
}

interface Decoder {
  mapFromDriverValue(value: unknown): unknown;
}
type Named = Record<string, unknown>;

/** What most columns do with a value: nothing. */
const asItIs = Column.prototype.mapFromDriverValue;

function decoderOf(field: unknown): Decoder {
  if (is(field, Column)) return field;
  if (is(field, SQL)) return (field as unknown as { decoder: Decoder }).decoder;
  if (is(field, Subquery)) return (field._.sql as unknown as { decoder: Decoder }).decoder;
  return (field as { sql: { decoder: Decoder } }).sql.decoder;
}

interface Cell {
  name: string;
  index: number;
  /** Null where the value stands as it came. */
  decoder: Decoder | null;
}

/** An object within the row, such as the columns of one table. */
interface Part {
  name: string;
  cells: Cell[];
  /** The column by which a join that found nothing is told, and its table; null where no column, or columns of several tables, are in it. */
  toldBy: Cell | null;
  table: string;
}

const readCell = (row: readonly unknown[], { index, decoder }: Cell): unknown => {
  const value = row[index];
  return decoder === null || value === null ? value : decoder.mapFromDriverValue(value);
};

/** How a row of values becomes an object with names. `found`: which tables of a select with joins always find a row; undefined of a
 *  select without. Null where fields lie deeper than one object within the row. */
export function rowMapper(
  fields: readonly SelectedField[],
  found: Record<string, boolean> | undefined,
): ((row: readonly unknown[]) => Named) | null {
  const own: (Cell | Part)[] = [];
  const parts = new Map<string, Part>();
  for (const [index, { path, field }] of fields.entries()) {
    const [first, second] = path;
    if (first === undefined || path.length > 2) return null;
    const decoder = decoderOf(field);
    const cell = { name: second ?? first, index, decoder: decoder.mapFromDriverValue === asItIs ? null : decoder };
    if (second === undefined) {
      own.push(cell);
      continue;
    }
    const table = is(field, Column) ? getTableName(field.table) : null;
    const part = parts.get(first);
    if (!part) {
      const made = { name: first, cells: [cell], toldBy: table === null ? null : cell, table: table ?? '' };
      parts.set(first, made);
      own.push(made);
      continue;
    }
    part.cells.push(cell);
    if (table === null) continue;
    if (part.table === '') {
      part.table = table;
      part.toldBy = cell;
    } else if (part.table !== table) part.toldBy = null;
  }
  return (row) => {
    const mapped: Named = {};
    for (const of of own) {
      if (!('cells' in of)) {
        mapped[of.name] = readCell(row, of);
        continue;
      }
      const { toldBy } = of;
      if (found && toldBy !== null && !found[of.table] && readCell(row, toldBy) === null) {
        mapped[of.name] = null;
        continue;
      }
      const part: Named = {};
      for (const cell of of.cells) part[cell.name] = readCell(row, cell);
      mapped[of.name] = part;
    }
    return mapped;
  };
}

/** Values for the placeholders of a query, in their order. Throws where one is missing. */
export function placeholderFiller(params: readonly unknown[]): (given: Named | undefined) => unknown[] {
  const slots = params.map((param) => {
    if (is(param, Placeholder)) return { name: param.name, encoder: null };
    if (is(param, Param) && is(param.value, Placeholder)) return { name: param.value.name, encoder: param.encoder };
    return null;
  });
  if (slots.every((slot) => slot === null)) return () => params as unknown[];
  return (given = {}) =>
    slots.map((slot, i) => {
      if (slot === null) return params[i];
      if (!(slot.name in given)) throw new Error(`No value for placeholder "${slot.name}" was provided`);
      const value = given[slot.name];
      return slot.encoder === null ? value : slot.encoder.mapToDriverValue(value);
    });
}

interface Statement {
  get(...values: unknown[]): unknown;
  all(...values: unknown[]): unknown[];
  raw(): Statement;
}
interface Prepared {
  stmt: Statement;
  joinsNotNullableMap?: Record<string, boolean>;
  get(given?: Named): unknown;
  all(given?: Named): unknown;
}
interface Session {
  prepareQuery(query: { params: unknown[] }, fields: SelectedField[] | undefined, ...more: unknown[]): Prepared;
}

/** Has a connection of drizzle map its rows so. */
export function mapRowsOf(db: object): void {
  const { session } = db as { session: Session };
  const { prepareQuery } = session;
  session.prepareQuery = (query, fields, ...more) => {
    const prepared = prepareQuery.call(session, query, fields, ...more);
    const ownMapper = more[2];
    if (fields === undefined || ownMapper !== undefined) return prepared;
    const { get, all, stmt } = prepared;
    const fill = placeholderFiller(query.params);
    // Which joins found a row is told to the query after it is prepared.
    let mapper: ReturnType<typeof rowMapper> | undefined;
    const mapperOf = () => {
      mapper ??= rowMapper(fields, prepared.joinsNotNullableMap);
      return mapper;
    };
    prepared.get = (given) => {
      const map = mapperOf();
      if (map === null) return get.call(prepared, given);
      const row = stmt.raw().get(...fill(given));
      return row === undefined ? undefined : map(row as unknown[]);
    };
    prepared.all = (given) => {
      const map = mapperOf();
      if (map === null) return all.call(prepared, given);
      return (stmt.raw().all(...fill(given)) as unknown[][]).map(map);
    };
    return prepared;
  };
}
