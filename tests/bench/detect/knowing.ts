import type { RoughInputs } from './rough-demand-world.ts';

/*
 * Who knows the model: an observer to whom all is told but chance. It knows how the world is made, what each bottle and tester reads
 * wrong, what the doser was set to and what changes and sales truly came to, and how steep the fall would be; not its day. It goes by
 * the generalised likelihood ratio over a Kalman filter (Basseville and Nikiforov, Detection of Abrupt Changes, 1993, for a linear state
 * with a step at an unknown time; from memory). It asks whether the level falls, not how near its limit is; a rule that asks both can tell a few more in time.
 */

/** SD of what chance adds a day in the rough world, dKH or parts: swing, use against usual, gain of the doser. */
const noise = { swing: 0.08, usual: 0.6 * 0.08, gain: 0.01 };
/** What of each is kept from day to day. */
const keeps = { usual: 0.8, swing: 0.6, gain: 0.98 };
/** Onsets looked back to, days. */
const lookBack = 40;
/** A slip is no surprise larger than this many SD. */
const cut = 3;

type Vector = [level: number, usual: number, swing: number, gain: number];
type Matrix = [Vector, Vector, Vector, Vector];
const indices = [0, 1, 2, 3] as const;

/** How states of two days depend on each other. */
const transition = ({ given, use, fraction }: RoughInputs): Matrix => {
  const rest = 1 - fraction;
  return [
    [rest, -use * rest, 0, given * rest],
    [0, keeps.usual, 0, 0],
    [0, 0, keeps.swing, 0],
    [0, 0, 0, keeps.gain],
  ];
};

const times = (f: Matrix, x: Vector): Vector =>
  f.map((row) => indices.reduce<number>((sum, i) => sum + row[i] * x[i], 0)) as Vector;
const product = (a: Matrix, b: Matrix): Matrix =>
  a.map((row) =>
    indices.map((column) => indices.reduce<number>((sum, i) => sum + row[i] * b[i][column], 0)),
  ) as Matrix;
const transposed = (a: Matrix): Matrix => indices.map((i) => indices.map((j) => a[j][i])) as Matrix;

interface Onset {
  /** How far the filter that knows of no fall is off, if it began then. */
  off: Vector;
  ratio: number;
}

/** Twice the log of the likelihood ratio of a fall by `fall` dKH a day that began on any day before, after each test. */
export function ratiosOfFall(
  inputs: readonly RoughInputs[],
  { fall, testSd }: { fall: number; testSd: number },
): { day: number; value: number }[] {
  let state: Vector = [8.2, 0, 0, 0];
  let cov: Matrix = [
    [0.1, 0, 0, 0],
    [0, 0.01, 0, 0],
    [0, 0, 0.01, 0],
    [0, 0, 0, 0.01],
  ];
  let onsets: Onset[] = [];
  const ratios: { day: number; value: number }[] = [];
  for (const [day, input] of inputs.entries()) {
    if (input.read !== null) {
      const seen = [0, 1, 2, 3].map((i) => (cov[i]?.[0] ?? 0) + (cov[i]?.[2] ?? 0)) as Vector;
      const variance = seen[0] + seen[2] + testSd ** 2;
      const gain = seen.map((one) => one / variance) as Vector;
      const limit = cut * Math.sqrt(variance);
      const surprise = Math.max(-limit, Math.min(limit, input.read - state[0] - state[2]));
      onsets = onsets.map(({ off, ratio }) => {
        const expected = off[0] + off[2];
        return {
          ratio: ratio + (2 * expected * surprise - expected ** 2) / variance,
          off: off.map((one, i) => one - (gain[i] ?? 0) * expected) as Vector,
        };
      });
      state = state.map((one, i) => one + (gain[i] ?? 0) * surprise) as Vector;
      cov = cov.map((row, i) => row.map((one, j) => one - (gain[i] ?? 0) * (seen[j] ?? 0))) as Matrix;
      ratios.push({ day: day + 0.35, value: Math.max(0, ...onsets.map(({ ratio }) => ratio)) });
    }
    const f = transition(input);
    const rest = 1 - input.fraction;
    const known = rest * (input.dosed + input.given - input.use) + input.fraction * input.makeUp;
    state = times(f, state);
    state[0] += known;
    cov = product(product(f, cov), transposed(f));
    cov[1][1] += noise.usual ** 2;
    cov[2][2] += noise.swing ** 2;
    cov[3][3] += noise.gain ** 2;
    onsets = [...onsets, { off: [0, 0, 0, 0] as Vector, ratio: 0 }].slice(-lookBack).map(({ off, ratio }) => {
      const next = times(f, off);
      next[0] -= rest * fall;
      return { ratio, off: next };
    });
  }
  return ratios;
}
