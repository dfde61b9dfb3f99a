import type { Drawing } from '../server/lots/schemas.ts';

/* How an ice-dyed length lies on its rack: folded in bands, one colour along the folds, the other in the gaps and over the
   middle; and what became of that when it was laid. */

const COLUMNS = 8;
const ROWS = 12;
/** A fold every three rows, on the lower edge of a row. */
const FOLDS = [3, 6, 9];

const cellsBy = (of: (x: number, y: number) => number): number[] =>
  Array.from({ length: COLUMNS * ROWS }, (_, i) => of(i % COLUMNS, Math.floor(i / COLUMNS)));
const where = (is: (x: number, y: number) => boolean): number[] =>
  cellsBy((x, y) => (is(x, y) ? 1 : 0)).flatMap((drawn, i) => (drawn === 1 ? [i] : []));
const across = (row: number, tilt = 0): Drawing['lines'][number] => ({
  kind: 'fold',
  x1: 0,
  y1: 2 * row,
  x2: 2 * COLUMNS,
  y2: 2 * row + tilt,
});
const isMiddle = (x: number, y: number): boolean => x >= 3 && x <= 4 && y >= 4 && y <= 7;
const isAtFold = (y: number): boolean => FOLDS.some((f) => y === f - 1 || y === f);

/** As it is meant to lie: three folds, ice over everything. */
export const meantDrawing = (): Drawing => ({
  columns: COLUMNS,
  rows: ROWS,
  cells: cellsBy((x, y) => (isAtFold(y) && !isMiddle(x, y) ? 1 : 2)),
  ice: where(() => true),
  clamps: [],
  lines: FOLDS.map((row) => across(row)),
});

/** As it lies: the last fold would not hold and was tied, the second slipped, and the ice gave out towards one end. */
export const laidDrawing = (): Drawing => ({
  columns: COLUMNS,
  rows: ROWS,
  cells: cellsBy((x, y) => {
    if (isMiddle(x, y)) return 2;
    if (y >= 10) return 0;
    return isAtFold(y - (y > 4 && x > 4 ? 1 : 0)) ? 1 : 2;
  }),
  ice: where((x, y) => y < 9 || (y < 10 && x < 5)),
  clamps: [],
  lines: [across(3), across(6, 2), { kind: 'binding', x1: 0, y1: 18, x2: 2 * COLUMNS, y2: 18 }],
});
