import { type ControlPoint, controlChart } from '../../platform/charts/control-chart.ts';
import { plural, withSign } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { ewmaChart, type WestgardRule, westgard } from '../../science/control.ts';
import { type MethodFigures, uncertaintyOf } from '../entry/entry.rules.ts';

/** One check as the chart takes it; canonical. */
interface Check {
  at: Date;
  /** The farm's own day: tests made together are one run. */
  day: string;
  standardValue: number;
  value: number;
}

/** A kit's checks as a control chart, in words and as a prompt; null without checks. */
export interface CheckChart {
  picture: string;
  says: string;
  /** What the rules ask for after the newest check that they mark; never a verdict. Null where they mark none. */
  prompt: string | null;
}

const ruleWords: Record<WestgardRule, string> = {
  '1_2s': 'one check a little off',
  '1_3s': 'one check far off',
  '2_2s': 'two in a row off on the same side',
  R_4s: 'two of one run far apart',
  '4_1s': 'four in a row on the same side',
  '10_x': 'ten in a row on the same side',
};

/** What is asked for by the rules that reject; the same for each. */
const repeat = 'Repeat the check with a fresh portion of the standard before judging the kit.';

/**
 * Errors of the checks in per cent of their standard, in order, about the true value: single values with limits at 2 and
 * 3 SD of the test, and their moving average (weight 0.3). Westgard's rules are named as prompts to repeat the check: on
 * kits that read right they speak up in 2 to 17 of a hundred.
 */
export function checkChart(
  checks: readonly Check[],
  method: MethodFigures,
  timeZone: string,
): CheckChart | null {
  const usable = checks
    .filter(({ standardValue }) => standardValue > 0)
    .sort((a, b) => a.at.getTime() - b.at.getTime());
  const [first] = usable;
  if (first === undefined) return null;
  const sd = (100 * uncertaintyOf(first.standardValue, method)) / first.standardValue;
  const errors = usable.map(({ value, standardValue }) => 100 * (value / standardValue - 1));
  const runs = [...new Set(usable.map(({ day }) => day))];
  const judged = westgard(
    errors.map((error, i) => ({ z: error / sd, run: runs.indexOf(usable[i]?.day ?? '') })),
  );
  const averages = ewmaChart(errors, { target: 0, sd });
  const points = usable.map(({ at }, i): ControlPoint => {
    const average = averages[i];
    return {
      day: dateWords(at, timeZone).replace(/ \d{4}$/, ''),
      value: errors[i] ?? 0,
      average: average?.ewma ?? 0,
      averageLow: average?.lower ?? 0,
      averageHigh: average?.upper ?? 0,
      marked: (judged[i]?.broken.length ?? 0) > 0,
    };
  });
  const marked = judged
    .map(({ broken }, i) => ({ day: points[i]?.day ?? '', broken }))
    .filter(({ broken }) => broken.length > 0);
  const says = sentence(points, sd, marked.length);
  return {
    picture: controlChart({ label: says, points, center: 0, sd, unit: ' %' }),
    says,
    prompt: promptOf(marked.at(-1)),
  };
}

/** The rules broken, without the weakest one where another is. */
function promptOf(marked: { day: string; broken: readonly WestgardRule[] } | undefined): string | null {
  if (marked === undefined) return null;
  const strong = marked.broken.filter((rule) => rule !== '1_2s');
  const named = (strong.length > 0 ? strong : marked.broken).map((rule) => ruleWords[rule]).join('; ');
  return `${marked.day}: ${named}. ${repeat}`;
}

function sentence(points: readonly ControlPoint[], sd: number, prompts: number): string {
  const last = points.at(-1);
  const size = (value: number) => withSign(value, `${Math.abs(Math.round(value * 10) / 10)} %`);
  const asks =
    prompts === 0
      ? 'No check needs a repeat.'
      : `${plural(prompts, 'check is', 'checks are')} marked to be repeated.`;
  return `${plural(points.length, 'check', 'checks')} in order, each as its error against the standard. Tests with this kit usually scatter by ${Math.round(sd * 10) / 10} %. The last was off by ${size(last?.value ?? 0)}; the moving average is ${size(last?.average ?? 0)}. ${asks}`;
}
