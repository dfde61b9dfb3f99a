/* Dense symmetric systems in place, row after row in one Float64Array: the general matrix library copies at every step, and
   the learning of a library of swatches solves some hundreds of systems of a few hundred unknowns. */

/** Cholesky factor L (lower, in place; the upper triangle is left as it was). Returns false where the matrix is not positive
 *  definite. */
export function choleskyInPlace(matrix: Float64Array, size: number): boolean {
  for (let i = 0; i < size; i += 1) {
    const rowI = i * size;
    for (let j = 0; j <= i; j += 1) {
      const rowJ = j * size;
      let sum = matrix[rowI + j] as number;
      for (let k = 0; k < j; k += 1) sum -= (matrix[rowI + k] as number) * (matrix[rowJ + k] as number);
      if (i === j) {
        if (!(sum > 0)) return false;
        matrix[rowI + i] = Math.sqrt(sum);
      } else {
        matrix[rowI + j] = sum / (matrix[rowJ + j] as number);
      }
    }
  }
  return true;
}

/** Solves L·y = v in place. */
export function forwardSubstitute(factor: Float64Array, size: number, v: Float64Array): void {
  for (let i = 0; i < size; i += 1) {
    const row = i * size;
    let sum = v[i] as number;
    for (let k = 0; k < i; k += 1) sum -= (factor[row + k] as number) * (v[k] as number);
    v[i] = sum / (factor[row + i] as number);
  }
}

/** Solves Lᵀ·x = v in place. */
export function backSubstitute(factor: Float64Array, size: number, v: Float64Array): void {
  for (let i = size - 1; i >= 0; i -= 1) {
    const x = (v[i] as number) / (factor[i * size + i] as number);
    v[i] = x;
    const row = i * size;
    for (let k = 0; k < i; k += 1) v[k] = (v[k] as number) - (factor[row + k] as number) * x;
  }
}

/** Solves (L·Lᵀ)·x = v in place. */
export function choleskySolve(factor: Float64Array, size: number, v: Float64Array): void {
  forwardSubstitute(factor, size, v);
  backSubstitute(factor, size, v);
}
