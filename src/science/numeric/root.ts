/**
 * Where a continuous, steadily rising or falling function reaches `target` between `low` and `high`.
 * The bracket always holds the answer (regula falsi with the Illinois weighting, bisection when that is slow),
 * so it cannot run away.
 *
 * @returns the argument, to about 1e-13 of the bracket's ends
 * @throws RangeError when the target is not reached within the bracket
 */
export function solveMonotone(f: (x: number) => number, target: number, low: number, high: number): number {
  let [a, b] = [low, high];
  let [fa, fb] = [f(a) - target, f(b) - target];
  if (fa === 0) return a;
  if (fb === 0) return b;
  if (!(fa * fb < 0)) throw new RangeError(`${target} is not reached between ${low} and ${high}`);
  for (let i = 0; i < 200 && Math.abs(b - a) > 1e-14 * Math.max(Math.abs(a), Math.abs(b)); i += 1) {
    const middle = i % 8 === 7 ? (a + b) / 2 : (a * fb - b * fa) / (fb - fa);
    const fm = f(middle) - target;
    if (fm === 0) return middle;
    if (fm * fb < 0) [a, fa] = [b, fb];
    else fa /= 2;
    if (middle === b) return b;
    [b, fb] = [middle, fm];
  }
  return b;
}
