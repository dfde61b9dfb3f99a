import { CalcError } from '../calcError.ts';

/** Solves A X = B by elimination with row exchange. A is n × n and B n × m, row by row; both are overwritten, X comes back
 *  in B. For the small systems here (n ≤ some 60). Throws CalcError('outOfRange') when A has no inverse.
 *  Source of the method: Gaussian elimination with partial pivoting, as in any textbook of numerical analysis. */
export function solveInPlace(a: Float64Array, b: Float64Array, n: number, m: number): Float64Array {
  for (let col = 0; col < n; col++) {
    let pivot = col;
    for (let row = col + 1; row < n; row++) {
      if (Math.abs(a[row * n + col]!) > Math.abs(a[pivot * n + col]!)) pivot = row;
    }
    const head = a[pivot * n + col]!;
    if (!(Math.abs(head) > 1e-14))
      throw new CalcError('outOfRange', 'points', 'these points do not determine a solution');
    if (pivot !== col) {
      for (let k = 0; k < n; k++) [a[col * n + k], a[pivot * n + k]] = [a[pivot * n + k]!, a[col * n + k]!];
      for (let k = 0; k < m; k++) [b[col * m + k], b[pivot * m + k]] = [b[pivot * m + k]!, b[col * m + k]!];
    }
    for (let row = col + 1; row < n; row++) {
      const f = a[row * n + col]! / head;
      if (f === 0) continue;
      for (let k = col; k < n; k++) a[row * n + k]! -= f * a[col * n + k]!;
      for (let k = 0; k < m; k++) b[row * m + k]! -= f * b[col * m + k]!;
    }
  }
  for (let row = n - 1; row >= 0; row--) {
    for (let k = 0; k < m; k++) {
      let sum = b[row * m + k]!;
      for (let col = row + 1; col < n; col++) sum -= a[row * n + col]! * b[col * m + k]!;
      b[row * m + k] = sum / a[row * n + row]!;
    }
  }
  return b;
}

/** Weighted least squares with a ridge: the B (n × m) that makes Σ wᵢ |xᵢ B − yᵢ|² + ridge |B − B₀|² least. Rows of x have n
 *  numbers, rows of y m. B₀ is zero unless `towards` is given.
 *  Source of the method: ridge regression, Hoerl & Kennard 1970 (from memory). */
export function ridgeSolve(input: {
  x: readonly (readonly number[])[];
  y: readonly (readonly number[])[];
  weights: readonly number[];
  ridge: number;
  towards?: Float64Array;
}): Float64Array {
  const { x, y, weights, ridge, towards } = input;
  const n = x[0]?.length ?? 0;
  const m = y[0]?.length ?? 0;
  if (n === 0 || m === 0) throw new CalcError('missing', 'points', 'there is nothing to fit');
  const a = new Float64Array(n * n);
  const b = new Float64Array(n * m);
  for (let row = 0; row < x.length; row++) {
    const xs = x[row]!;
    const ys = y[row]!;
    const w = weights[row]!;
    for (let i = 0; i < n; i++) {
      for (let j = 0; j < n; j++) a[i * n + j]! += w * xs[i]! * xs[j]!;
      for (let j = 0; j < m; j++) b[i * m + j]! += w * xs[i]! * ys[j]!;
    }
  }
  for (let i = 0; i < n; i++) {
    a[i * n + i]! += ridge;
    if (towards !== undefined) for (let j = 0; j < m; j++) b[i * m + j]! += ridge * towards[i * m + j]!;
  }
  return solveInPlace(a, b, n, m);
}
