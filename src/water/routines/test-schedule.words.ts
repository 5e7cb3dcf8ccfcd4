import { addDays } from '../../platform/days.ts';
import { inputNumber, numberWords } from '../../platform/words/numbers.ts';
import { sayDifference } from '../quantities/quantities.ts';
import { cadenceWords, intervalWords } from './routines.rules.ts';
import { evaporates, type Going, isWeighed, minutesAWeek, type WeighedTests } from './test-schedule.rules.ts';
import type { ScheduledTest } from './test-schedule.ts';

/** One test as the page and the API say it. */
interface TestProposal {
  quantityCode: string;
  name: string;
  /** "every week"; "not planned". */
  now: string;
  proposed: string;
  /** Whether the proposal is what is planned already. */
  isSame: boolean;
  /** "12 min now, 8 min as proposed" a week. */
  minutes: string;
  /** What is judged by, a sentence or two each. */
  why: string[];
  /** What the form sends: the interval, and the routine that it changes. */
  everyDays: string;
  startsOn: string;
  routineId: string | null;
  version: number;
  button: string;
}

interface ScheduleWords {
  tests: TestProposal[];
  /** "In a week all of it takes 19 min now, 14 min as proposed." */
  sum: string;
  /** "Alkalinity: what is used a day is not known: ...". */
  unknown: string[];
  /** How it is worked out, and what of it is own choice. */
  basis: string;
}

/** The schedule of tests in words; `today` as "2026-11-24". */
export function scheduleWords(schedule: readonly ScheduledTest[], today: string): ScheduleWords {
  const tests = schedule.flatMap(({ quantity, routine, weighed }): TestProposal[] => {
    if (!isWeighed(weighed)) return [];
    const often = intervalWords(weighed.proposed);
    return [
      {
        ...{ quantityCode: quantity.code, name: quantity.name, proposed: often },
        now: routine === null ? 'not planned' : cadenceWords(routine),
        isSame: weighed.now !== null && Math.abs(weighed.now - weighed.proposed) < 0.05,
        minutes: minutesWords(weighed.minutes),
        why: whyWords(quantity, weighed),
        ...{ everyDays: inputNumber(weighed.proposed, 2), startsOn: startOf(weighed, routine, today) },
        ...{ routineId: routine?.id ?? null, version: routine?.version ?? 0 },
        button: `Test ${often}`,
      },
    ];
  });
  const weighed = schedule.flatMap((one) => (isWeighed(one.weighed) ? [one.weighed] : []));
  return {
    tests,
    sum: tests.length === 0 ? '' : `In a week all of it takes ${minutesWords(minutesAWeek(weighed))}.`,
    unknown: schedule.flatMap(({ quantity, weighed: one }) =>
      isWeighed(one) ? [] : [`${quantity.name}: ${one.unknown}.`],
    ),
    basis,
  };
}

const basis = `Worked out from each system’s own speed, at its fast end, and the error of its tests, by the same sums as the alerts. A trouble should be told while a third of the time until it harms is left. Tests that tell it sooner by less than a fifth of that time are not proposed. The third, the fifth, the minutes of a test, and half a band’s width beyond the band (a tenth beyond a single edge) where no harmful level is known, are our own choice. Tests that are left out make it later. Slips and repeats are not counted in the minutes.`;

const minutesWords = ({ now, proposed }: WeighedTests['minutes']): string =>
  Math.round(now) === Math.round(proposed)
    ? `${numberWords(Math.round(now))} min`
    : `${numberWords(Math.round(now))} min now, ${numberWords(Math.round(proposed))} min as proposed`;

/** The first day on which it is due as proposed: counted from the last test, and not before today. */
function startOf({ proposed }: WeighedTests, routine: ScheduledTest['routine'], today: string): string {
  const last = routine?.lastOn ?? null;
  if (last === null) return today;
  const next = addDays(last, Math.round(proposed));
  return next < today ? today : next;
}

function whyWords(quantity: ScheduledTest['quantity'], weighed: WeighedTests): string[] {
  return weighed.goings.map((going, i) => {
    const { perDay, harmsAfter, isHarmKnown } = going;
    const speed = `${sayDifference(quantity, Math.abs(perDay), weighed.level)} a day`;
    const way = perDay < 0 ? 'falls' : 'rises';
    const late = weighed.isLate && i === 0 ? ` ${lateWords(weighed)}` : '';
    return `${ifWords(going, quantity.code)}, it ${way} by up to ${speed} and ${isHarmKnown ? 'harms' : 'is well beyond its band'} after about ${daysWords(harmsAfter)}. ${toldWords(going)}${late}`;
  });
}

const lateWords = ({ proposed }: WeighedTests): string =>
  proposed === 1
    ? 'Even daily tests tell it late: look each day at what could stop or run on.'
    : 'That is late, but closer tests would not tell it much sooner.';

const daysWords = (days: number): string => {
  const rounded = days < 10 ? Math.round(2 * days) / 2 : Math.round(days);
  return rounded <= 1 ? 'a day' : `${numberWords(rounded)} days`;
};

function toldWords({ toldNow, toldProposed, toldByAlkalinity }: Going): string {
  if (toldByAlkalinity) return 'Alkalinity is dosed with it, and its tests tell that sooner.';
  const proposed = toldProposed === null ? 'not told' : daysWords(toldProposed);
  if (toldNow === null) return `Told after about ${proposed} as proposed.`;
  return daysWords(toldNow) === proposed
    ? `Told after about ${proposed}.`
    : `Told after about ${daysWords(toldNow)} now, ${proposed} as proposed.`;
}

function ifWords({ kind }: Going, code: string): string {
  switch (kind) {
    case 'dose stops':
      return 'If nothing is dosed any more';
    case 'dose doubles':
      return 'If twice as much is dosed';
    case 'changes stop':
      return code === 'nitrate' || code === 'phosphate'
        ? 'If water changes stop, or twice as much is fed'
        : 'If water changes stop';
    case 'top-up stops':
      return `If the top-up stops (${numberWords(100 * evaporates)} % of the water evaporates a day, common practice)`;
  }
}
