import type { Sqlite } from '../../server/db/open.ts';

export interface Trigger {
  name: string;
  sql: string;
}

export const triggersOf = (sqlite: Sqlite): Trigger[] =>
  sqlite
    .prepare("select name, sql from sqlite_master where type = 'trigger' and name not glob 'proof_of_*' order by name")
    .all() as Trigger[];

/** What a trigger says when it refuses; undefined of one that writes. */
export const wordsOf = (sql: string): string | undefined =>
  /RAISE\s*\(\s*ABORT\s*,\s*'((?:[^']|'')*)'/i.exec(sql)?.[1]?.replaceAll("''", "'");

/** A trigger with one part of its condition left out. */
export interface Weakened {
  without: string;
  sql: string;
}

/** The same trigger once for each part of its condition, without that part: an alternative of an OR, a demand of an AND (inside
 *  the WHERE of its subqueries too), a column of its UPDATE OF. Whatever the guard loses so, some statement must tell. */
export function weakened(sql: string): Weakened[] {
  const found: Weakened[] = [];
  const head = /\bUPDATE\s+OF\s+([\w\s,]+?)\s+ON\b/i.exec(sql);
  const columns = head?.[1]?.split(',').map((c) => c.trim()) ?? [];
  if (head && columns.length > 1) {
    for (const column of columns) {
      const rest = columns.filter((c) => c !== column).join(', ');
      found.push({ without: `OF ${column}`, sql: sql.replace(head[1] ?? '', rest) });
    }
  }
  const when = /\bWHEN\b/i.exec(sql);
  if (when) {
    const from = when.index + 4;
    const to = /\bBEGIN\b/i.exec(sql.slice(from))?.index ?? 0;
    const condition = { from, to: from + to };
    found.push({ without: 'WHEN', sql: sql.slice(0, when.index) + sql.slice(condition.to) });
    for (const part of partsOf(sql, condition))
      found.push({ without: sql.slice(part.from, part.to).replace(/\s+/g, ' ').trim(), sql: without(sql, part) });
  }
  return found;
}

interface Span {
  from: number;
  to: number;
}
interface Part extends Span {
  /** What the part is replaced by: true for a demand of an AND, false for an alternative of an OR. */
  by: '1' | '0';
}

const without = (sql: string, part: Part): string => `${sql.slice(0, part.from)} ${part.by} ${sql.slice(part.to)}`;

function partsOf(sql: string, span: Span): Part[] {
  for (const [word, by] of [
    ['OR', '0'],
    ['AND', '1'],
  ] as const) {
    const operands = split(sql, span, word);
    if (operands.length > 1) return operands.flatMap((o): Part[] => [{ ...o, by }, ...partsOf(sql, o)]);
  }
  return subqueriesOf(sql, span);
}

/** Operands of a word at the outermost depth. */
function split(sql: string, span: Span, word: 'OR' | 'AND'): Span[] {
  const operands: Span[] = [];
  let from = span.from;
  walk(sql, span, (at, depth) => {
    if (depth === 0 && new RegExp(`^${word}\\b`, 'i').test(sql.slice(at, at + 4)) && /\s|\)/.test(sql[at - 1] ?? '')) {
      operands.push({ from, to: at });
      from = at + word.length;
    }
  });
  return [...operands, { from, to: span.to }];
}

/** Parts of what stands in the outermost brackets of a part: a condition, or a subquery. */
function subqueriesOf(sql: string, span: Span): Part[] {
  const parts: Part[] = [];
  let opened = -1;
  walk(sql, span, (at, depth) => {
    if (sql[at] === '(' && depth === 1) opened = at + 1;
    if (sql[at] === ')' && depth === 0) {
      const inner = { from: opened, to: at };
      parts.push(...(/^\s*SELECT\b/i.test(sql.slice(opened, at)) ? demandsOf(sql, inner) : partsOf(sql, inner)));
    }
  });
  return parts;
}

/** What the WHERE of a subquery demands. */
function demandsOf(sql: string, query: Span): Part[] {
  let from = query.to;
  walk(sql, query, (at, depth) => {
    if (depth === 0 && /^WHERE\b/i.test(sql.slice(at, at + 6))) from = at + 5;
  });
  const condition = { from, to: query.to };
  const inside = partsOf(sql, condition);
  const isOne = from < query.to && split(sql, condition, 'AND').length === 1;
  return isOne ? [{ ...condition, by: '1' }, ...inside] : inside;
}

function walk(sql: string, span: Span, visit: (at: number, depth: number) => void): void {
  let depth = 0;
  for (let at = span.from; at < span.to; at++) {
    if (sql[at] === "'") {
      at = sql.indexOf("'", at + 1);
      continue;
    }
    if (sql[at] === '(') depth += 1;
    if (sql[at] === ')') depth -= 1;
    visit(at, depth);
  }
}
