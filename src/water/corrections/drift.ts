import { lastEvents } from '../../farm/events/events.ts';
import { sinceHabitsChanged } from '../../farm/events/habits.rules.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { dayOf, daysBefore } from '../../science/numeric/time.ts';
import { sinceRighted } from '../demand/doser-doubt.rules.ts';
import { readDoserDoubts } from '../demand/doser-doubt.ts';
import { rateOf } from '../demand/rate.rules.ts';
import type { Correctable } from '../dosing/substances.rules.ts';
import { sinceLineBroke } from '../estimates/since-break.rules.ts';
import { type Quantity, sayDifference } from '../quantities/quantities.ts';
import type { WaterSystem } from '../systems/systems.ts';
import type { Candidate } from './starting-reading.rules.ts';

/** What a level does by itself in a day: what the stock uses, with the usual dosing and without corrections. */
export interface CorrectionDrift {
  /** As a correction counts it: null where nobody can tell, and 0 where it may as well stand still. */
  counted: { perDay: number; sd: number } | null;
  /** Usual dosing a day, by the log of the last two weeks, without steps of corrections. */
  usualPerDay: number;
  /** Days of readings it is from. */
  days: number;
  /** The line of the tests broke within them: only those since count. */
  broke: boolean;
  /** A fall that is not counted, since it may end with a doser that is put right; null where none is left out. */
  leftOut: number | null;
}

const historyDays = 21;
const usualDays = 14;
/** A rate from fewer days than this is a guess; own choice. */
const leastDays = 4;
/** After the line broke a rate counts sooner: its pace is another one, and the tests' error stays in its uncertainty. Days, own choice. */
const leastDaysAfterBreak = 1.5;
/** How well volume and strengths are known together; own choice. */
const doseRelativeSd = 0.05;

const readings = `
  SELECT id, at, value, below_detection AS below, above_scale AS above, uncertainty, kit_id AS "kitId", method_id AS "methodId", trust::text
    FROM (SELECT * FROM reading_with_vote WHERE system_id = $1::text::uuid AND quantity_code = $2
          UNION ALL SELECT * FROM unpacked_with_vote($1::text::uuid, $2, $3, $4)) AS reading
   WHERE voided_at IS NULL AND slot_id IS NULL AND at > $3 AND at <= $4
   ORDER BY at DESC LIMIT 500`;

const log = `
  SELECT dose.at, dose.effect AS rise, NULL::float8 AS "volumeL", NULL::float8 AS "makeUp", step.id IS NULL AS usual
    FROM dose LEFT JOIN correction_step AS step ON step.dose_id = dose.id
   WHERE system_id = $1::text::uuid AND quantity_code = $2 AND effect IS NOT NULL AND voided_at IS NULL AND at > $3 AND at <= $4
  UNION ALL
  SELECT at, NULL, volume_l, (make_up->>$2)::float8, false FROM water_change
   WHERE system_id = $1::text::uuid AND voided_at IS NULL AND at > $3 AND at <= $4`;

interface Logged {
  at: Date;
  rise: number | null;
  volumeL: number | null;
  /** Level in the water of this change; null: the usual one. */
  makeUp: number | null;
  usual: boolean;
}

const makeUp = `SELECT make_up AS "makeUp" FROM system_quantity WHERE system_id = $1::text::uuid AND quantity_code = $2`;

/** Reads what the level does by itself: five queries. */
export async function readDrift(
  reader: SqlReader,
  system: WaterSystem,
  quantity: Quantity & { code: Correctable },
  suspectKits: ReadonlySet<string>,
  now: Date,
): Promise<CorrectionDrift> {
  const { code } = quantity;
  const since = daysBefore(now, historyDays);
  const period = [system.id, code, since, now];
  const read = (await reader.query<Candidate>(readings, period)).rows;
  const entries = (await reader.query<Logged>(log, period)).rows;
  const [target] = (await reader.query<{ makeUp: number | null }>(makeUp, [system.id, code])).rows;
  const event = (await lastEvents(reader, [system.id], now)).get(system.id);
  const events = event === undefined ? [] : [{ day: dayOf(event.at) }];
  const doses = entries.flatMap(({ at, rise }) => (rise === null ? [] : [{ day: dayOf(at), rise }]));
  const changes = entries.flatMap(({ at, volumeL, makeUp }) =>
    volumeL === null ? [] : [{ day: dayOf(at), fraction: Math.min(1, volumeL / system.volumeL), makeUp }],
  );
  const recent = entries.filter((one) => one.usual && dayOf(one.at) > dayOf(now) - usualDays);
  const usualPerDay = recent.reduce((sum, one) => sum + (one.rise ?? 0), 0) / usualDays;
  const steps = entries.flatMap(({ at, rise, usual }) =>
    usual || rise === null ? [] : [{ day: dayOf(at), rise }],
  );
  const doser = (await readDoserDoubts(reader, [system.id], [code], now))(system.id, code);
  const all = read.filter(isRelied).map((one) => ({ ...one, day: dayOf(one.at) }));
  const line = sinceLineBroke(
    sinceHabitsChanged(
      events,
      sinceRighted(all, doser).map((one) => ({
        ...{ id: one.id, day: one.day, value: one.value, u: one.uncertainty },
        ...{ below: one.below, above: one.above ?? false, confirmed: one.trust === 'confirmed' },
        trust: one.trust,
        instrument: one.kitId ?? '',
        suspect: one.kitId !== null && suspectKits.has(one.kitId),
      })),
    ).toSorted((a, b) => a.day - b.day),
    quantity,
    (day) => steps.filter((one) => one.day <= day).reduce((sum, one) => sum + one.rise, 0),
  );
  const rate = rateOf(
    line.readings.filter(({ above }) => !above),
    { doses, changes, makeUp: target?.makeUp ?? null },
    doseRelativeSd,
  );
  const days = rate === null ? 0 : rate.toDay - rate.fromDay;
  const about = { usualPerDay, days, broke: line.broke, leftOut: null };
  if (rate === null || days < (line.broke ? leastDaysAfterBreak : leastDays))
    return { counted: null, ...about };
  const perDay = rate.perDay + usualPerDay;
  const [low, high] = [rate.low + usualPerDay, rate.high + usualPerDay];
  if (perDay < 0 && doser !== null && doser.state !== 'righted' && usualPerDay > 0)
    return { ...about, counted: { perDay: 0, sd: rate.sd }, leftOut: -perDay };
  // What may as well be nothing is taken as nothing, and stays in the uncertainty.
  return { counted: { perDay: low > 0 || high < 0 ? perDay : 0, sd: rate.sd }, ...about };
}

const isRelied = ({ trust }: Candidate) => trust === 'plain' || trust === 'confirmed';

/** What the water does by itself, in a sentence for people. */
export function driftSentence(
  quantity: Quantity,
  { counted, broke, leftOut }: Pick<CorrectionDrift, 'counted' | 'broke' | 'leftOut'>,
): string {
  const tests = broke ? 'the tests since it left its line' : 'the tests of the last three weeks';
  if (counted === null)
    return broke
      ? 'not known: it left its line, and its pace since then needs more tests. The levels expected count only what is added. Test before each step'
      : 'not known yet (too few tests): the levels expected count only what is added';
  if (leftOut !== null)
    return `falls ${sayDifference(quantity, leftOut, quantity.plausibleLow)} a day with what is dosed daily, by ${tests}. A doser may give less than is logged, so the fall is not counted: the smaller use is the safer one to plan with, and nothing is too much once the doser is right`;
  if (counted.perDay === 0) return `does not change with what is dosed daily, by ${tests}`;
  const moves = sayDifference(quantity, Math.abs(counted.perDay), quantity.plausibleLow);
  return `${counted.perDay < 0 ? 'falls' : 'rises'} ${moves} a day with what is dosed daily, by ${tests}; the levels expected count it`;
}
