import type { Alert } from '../../alerts/alerts.ts';
import { type PairedTest, pairedChart } from '../../platform/charts/paired-chart.ts';
import type { Service } from '../../platform/service.ts';
import { whenWords } from '../../platform/words/times.ts';
import { findKit } from '../../water/kits/kits.ts';
import { farmValue, type Quantity, say, unitName } from '../../water/quantities/quantities.ts';
import { type AlertPicture, type Clock, narrowWidth, noPicture, wideWidth } from './picture.ts';

/** The newest tests that are drawn. */
const shown = 14;

/** What a kit showed beside what the standard holds, or beside another kit on one sample, test by test. */
export async function kitPicture(
  { db }: Service,
  alert: Alert,
  { timeZone, now }: Clock,
): Promise<AlertPicture> {
  const kit = await findKit(db, alert.subjectId);
  const { quantity } = kit.method;
  const tests = testsOf(kit).slice(-shown);
  const [first] = tests;
  if (first === undefined) return noPicture;
  const inFarm = (value: number) => farmValue(quantity, value).value;
  const drawn: PairedTest[] = tests.map(({ at, truth, value, standard }) => ({
    day: whenWords(at.toISOString().slice(0, 10), timeZone, now),
    truth: inFarm(truth),
    shown: inFarm(value),
    standard,
  }));
  const says = sentence(kit.label, quantity, tests);
  const unit = unitName(quantity.code, farmValue(quantity, first.truth).unit);
  const names = {
    truth: tests.every(({ standard }) => standard) ? 'standard' : 'other kit',
    shown: 'this kit',
  };
  const chart = { label: says, tests: drawn, unit, names };
  return {
    ...noPicture,
    drawings: [
      {
        wide: pairedChart({ ...chart, width: wideWidth, height: 300 }),
        narrow: pairedChart({ ...chart, width: narrowWidth, height: 260 }),
        says,
      },
    ],
    table: {
      title: tests.length === 1 ? 'The test beside it' : `The ${tests.length} tests beside it`,
      head: ['When', 'Beside', 'It showed', 'This kit showed'],
      rows: tests.toReversed().map(({ at, beside, truth, value }) =>
        [whenWords(at, timeZone, now), beside, say(quantity, truth), say(quantity, value)].map((text) => ({
          text,
          href: '',
        })),
      ),
    },
  };
}

interface Beside {
  at: Date;
  truth: number;
  value: number;
  standard: boolean;
  beside: string;
}

/** Checks of standards and tests beside another kit, oldest first. */
function testsOf({ checks, pairs }: Awaited<ReturnType<typeof findKit>>): Beside[] {
  const ofStandard = checks
    .filter(({ voidedAt }) => voidedAt === null)
    .map(({ at, standardValue, value }) => ({
      ...{ at, truth: standardValue, value, standard: true, beside: 'a standard' },
    }));
  const ofOther = pairs
    .filter(({ voidedAt }) => voidedAt === null)
    .map(({ at, oldValue, value, oldKit }) => ({
      ...{ at, truth: oldValue, value, standard: false, beside: oldKit.label },
    }));
  return [...ofStandard, ...ofOther].sort((a, b) => a.at.getTime() - b.at.getTime());
}

function sentence(label: string, quantity: Quantity, tests: readonly Beside[]): string {
  const low = tests.filter(({ truth, value }) => value < truth).length;
  const high = tests.filter(({ truth, value }) => value > truth).length;
  const [count, side] = low >= high ? [low, 'lower'] : [high, 'higher'];
  const last = tests.at(-1);
  const newest =
    last === undefined
      ? ''
      : ` The last showed ${say(quantity, last.value)} beside ${say(quantity, last.truth)}.`;
  return `${label} beside a standard or another kit: ${count} of ${tests.length} tests ${side}.${newest}`;
}
