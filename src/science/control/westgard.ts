import { finite } from '../numeric/range.ts';

/** One check reading of a standard, as its deviation from the known value in SD of the test. */
export interface Check {
  z: number;
  /** Checks of one run (made together) share a number; each is its own run when left out. */
  run?: number;
}

export type WestgardRule = '1_2s' | '1_3s' | '2_2s' | 'R_4s' | '4_1s' | '10_x';

export interface WestgardVerdict {
  broken: WestgardRule[];
  /** '1_2s' alone only asks to look again; any other rule rejects. */
  verdict: 'in control' | 'look again' | 'out of control';
}

/**
 * Judges each check together with those before it, oldest first. For check readings this is a prompt to repeat the
 * check; whether the kit reads wrong is judged by `judgeKit`, since these rules cry wolf in 2 to 17 % of kits.
 *
 * Westgard, Barry, Hunt & Groth 1981 (Clin. Chem. 27, 493); conditions as in the table of the tests.
 */
export function westgard(checks: readonly Check[]): WestgardVerdict[] {
  for (const { z } of checks) finite(z, 'deviation of the check');
  return checks.map((_, i) => {
    const broken = RULES.filter(({ breaks }) => breaks(checks.slice(0, i + 1))).map(({ rule }) => rule);
    const verdict =
      broken.length === 0
        ? 'in control'
        : broken.every((r) => r === '1_2s')
          ? 'look again'
          : 'out of control';
    return { broken, verdict };
  });
}

const RULES: { rule: WestgardRule; breaks: (upToNow: readonly Check[]) => boolean }[] = [
  { rule: '1_2s', breaks: (checks) => beyond(checks, 1, 2) },
  { rule: '1_3s', breaks: (checks) => beyond(checks, 1, 3) },
  { rule: '2_2s', breaks: (checks) => beyond(checks, 2, 2) },
  { rule: 'R_4s', breaks: opposed },
  { rule: '4_1s', breaks: (checks) => beyond(checks, 4, 1) },
  { rule: '10_x', breaks: (checks) => beyond(checks, 10, 0) },
];

/** The last `count` checks all lie beyond `limit` on one side. */
function beyond(checks: readonly Check[], count: number, limit: number): boolean {
  const last = checks.slice(-count).map(({ z }) => z);
  return last.length === count && (last.every((z) => z > limit) || last.every((z) => z < -limit));
}

/** Within the newest check's run one lies above +2 SD and another below -2 SD, the newest being one of them. */
function opposed(checks: readonly Check[]): boolean {
  const newest = checks.at(-1);
  if (newest?.run === undefined || Math.abs(newest.z) <= 2) return false;
  return checks.some(
    ({ z, run }) => run === newest.run && Math.abs(z) > 2 && Math.sign(z) === -Math.sign(newest.z),
  );
}
