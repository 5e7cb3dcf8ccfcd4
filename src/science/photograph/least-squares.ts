import { Matrix, solve } from 'ml-matrix';

/**
 * The parameters at which a sum of squares is least, from a start near them (Levenberg 1944, Marquardt 1963), with slopes
 * by small steps.
 * @param residuals of the parameters, always as many
 * @param steps how far each parameter is moved for its slope
 */
export function leastSquares(
  residuals: (parameters: readonly number[]) => number[],
  start: readonly number[],
  steps: readonly number[],
): number[] {
  let best = [...start];
  let left = residuals(best);
  let damping = 1e-3;
  for (let round = 0; round < 40; round++) {
    const slopes = new Matrix(left.length, best.length);
    for (const [j, step] of steps.entries()) {
      const moved = best.map((value, i) => (i === j ? value + step : value));
      for (const [i, value] of residuals(moved).entries())
        slopes.set(i, j, (value - (left[i] as number)) / step);
    }
    const normal = slopes.transpose().mmul(slopes);
    const pull = slopes.transpose().mmul(Matrix.columnVector(left));
    const before = sumOfSquares(left);
    let isBetter = false;
    for (let attempt = 0; attempt < 8 && !isBetter; attempt++) {
      const damped = normal.clone();
      for (let j = 0; j < best.length; j++) damped.set(j, j, normal.get(j, j) * (1 + damping) + 1e-15);
      const move = solve(damped, pull);
      const tried = best.map((value, j) => value - move.get(j, 0));
      const then = residuals(tried);
      isBetter = sumOfSquares(then) < before;
      if (isBetter) [best, left] = [tried, then];
      damping *= isBetter ? 0.2 : 6;
    }
    if (!isBetter || before - sumOfSquares(left) < 1e-9 * before) break;
  }
  return best;
}

const sumOfSquares = (values: readonly number[]) => values.reduce((sum, value) => sum + value * value, 0);
