import fc from 'fast-check';
import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import { expect, test } from 'vitest';
import { choleskyInPlace, choleskySolve, forwardSubstitute } from '../../../server/calc/match/linear.ts';

const system = fc.integer({ min: 1, max: 14 }).chain((size) =>
  fc.record({
    size: fc.constant(size),
    root: fc.array(fc.double({ min: -3, max: 3, noNaN: true }), { minLength: size * size, maxLength: size * size }),
    v: fc.array(fc.double({ min: -9, max: 9, noNaN: true }), { minLength: size, maxLength: size }),
  }),
);

test('factor and solution are those of a general matrix library', () => {
  fc.assert(
    fc.property(system, ({ size, root, v }) => {
      const B = Matrix.from1DArray(size, size, root);
      const A = B.mmul(B.transpose()).add(Matrix.eye(size, size).mul(0.5));
      const theirs = new CholeskyDecomposition(A);
      const factor = Float64Array.from(A.to1DArray());
      expect(choleskyInPlace(factor, size)).toBe(true);
      for (let i = 0; i < size; i += 1) {
        for (let j = 0; j <= i; j += 1) {
          expect(factor[i * size + j]).toBeCloseTo(theirs.lowerTriangularMatrix.get(i, j), 7);
        }
      }
      const ours = Float64Array.from(v);
      choleskySolve(factor, size, ours);
      const solved = theirs.solve(Matrix.columnVector(v)).to1DArray();
      for (const [i, x] of ours.entries()) expect(x).toBeCloseTo(solved[i] as number, 6);
      const half = Float64Array.from(v);
      forwardSubstitute(factor, size, half);
      const norm = half.reduce((sum, x) => sum + x * x, 0);
      // |L⁻¹v|² = vᵀA⁻¹v
      expect(norm).toBeCloseTo(
        v.reduce((sum, x, i) => sum + x * (solved[i] as number), 0),
        5,
      );
    }),
  );
});

test('what is not positive definite is said so', () => {
  expect(choleskyInPlace(Float64Array.of(1, 2, 2, 1), 2)).toBe(false);
  expect(choleskyInPlace(Float64Array.of(-1), 1)).toBe(false);
  expect(choleskyInPlace(Float64Array.of(1, 0, 0, 0, 1, 0, 0, 0, Number.NaN), 3)).toBe(false);
});
