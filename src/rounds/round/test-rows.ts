import type pg from 'pg';
import type { Reader } from '../../platform/service.ts';
import { ownUnit } from '../../platform/units/units.ts';
import { agoWords } from '../../platform/words/times.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import type { ExpectedWindow, SurpriseLimits } from '../../science/statistics/surprise.ts';
import { convert } from '../../science/units.ts';
import { canBeDiluted } from '../../water/entry/entry.rules.ts';
import { removeBias } from '../../water/kits/bias.rules.ts';
import { type KitBias, kitBiases } from '../../water/kits/bias.ts';
import { loadInstrumentCatalog } from '../../water/kits/instruments.ts';
import { chosenKit, type KitChoice, kitOf, withKitDoubts } from '../../water/kits/kit-choice.rules.ts';
import {
  decimalsIn,
  listQuantities,
  type Quantity,
  say,
  sayBand,
  sayReading,
  unitChoices,
} from '../../water/quantities/quantities.ts';
import { type Choice, instrumentChoices } from '../../water/readings/entry-form.ts';
import { type ReadingHistory, systemHistories } from '../../water/trust/history.ts';
import { surpriseLimits } from '../../water/trust/surprise.rules.ts';
import { repeatAdvice } from '../../water/trust/trust.rules.ts';
import { type KitUse, ownKitsFirst } from './kit-choice.rules.ts';

/** A unit to choose, between which numbers a reading in it is usual, and what the row says in it. */
interface UnitChoice extends Choice {
  usual: { low: number; high: number } | null;
  /** "5.0 to 13.2 dKH". */
  usualSaid: string;
  /** "8.3 dKH, 3 h ago; keep 7.0 to 9.0 dKH". */
  said: string;
  decimals: number;
}

/** What the last results of a test are drawn from, canonical. */
export interface TestSeries {
  points: { at: number; value: number; uncertainty: number; bound: 'below' | 'above' | null }[];
  low: number | null;
  high: number | null;
}

/** What a result is judged by, canonical: now, and where the level is expected a day later. */
export interface Expects {
  /** Milliseconds since 1970. */
  at: number;
  limits: SurpriseLimits;
  tomorrow: ExpectedWindow | null;
  /** Standard uncertainty of each method: absolute, and as a share of the value. */
  methods: Record<string, [absolute: number, relative: number]>;
}

/** One test of a system on a round: what it was last, and with what it was done. */
export interface TestRow {
  code: string;
  name: string;
  /** What is said beneath it, in the unit of its field. */
  said: string;
  keeps: string | null;
  usual: string;
  units: UnitChoice[];
  unit: string;
  hows: KitChoice[];
  how: string;
  /** A sample of it can be diluted. */
  dilutes: boolean;
  /** What a tablet judges a result by before the service can: {@link Expects} as JSON. */
  expects: string;
  /** {@link TestSeries} as JSON. */
  series: string;
  /** A reading that waits for a second one, and what would settle it. */
  waits: { said: string; advice: string } | null;
}

interface Row {
  systemId: string;
  code: string;
  known: boolean;
  value: number | null;
  below: boolean;
  above: boolean;
  uncertainty: number | null;
  /** The kit that the last value was read with. */
  lastKitId: string | null;
  at: Date | null;
  trust: string | null;
  unit: string | null;
  methodId: string | null;
  kitId: string | null;
  low: number | null;
  high: number | null;
  starting: boolean;
  waiting: { value: number; below: boolean; above: boolean; uncertainty: number } | null;
  points: (TestSeries['points'][number] & { kitId: string | null })[];
}

const rowQuery = `
  SELECT system.id AS "systemId", quantity.code,
         last.at IS NOT NULL OR target.band_low IS NOT NULL OR target.band_high IS NOT NULL OR EXISTS (
           SELECT 1 FROM routine WHERE routine.system_id = system.id AND routine.quantity_code = quantity.code
              AND routine.work = 'test' AND routine.ended_at IS NULL) AS known,
         last.value, coalesce(last.below_detection, false) AS below, coalesce(last.above_scale, false) AS above, last.at, last.uncertainty, last.kit_id AS "lastKitId", last.trust::text, used.entered_unit AS unit,
         used.method_id AS "methodId", used.kit_id AS "kitId", target.band_low AS low, target.band_high AS high, coalesce(target.starting, false) AS starting,
         CASE WHEN waiting.value IS NOT NULL THEN json_build_object('value', waiting.value,
              'below', waiting.below_detection, 'above', waiting.above_scale, 'uncertainty', waiting.uncertainty) END AS waiting,
         coalesce(series.points, '[]') AS points
    FROM system CROSS JOIN quantity
    LEFT JOIN system_quantity AS target ON target.system_id = system.id AND target.quantity_code = quantity.code
    LEFT JOIN LATERAL (SELECT * FROM reading_with_vote
                        WHERE system_id = system.id AND quantity_code = quantity.code AND slot_id IS NULL
                          AND voided_at IS NULL AND trust <> 'refuted' AND at > $2::timestamptz - interval '120 days'
                        ORDER BY at DESC, created_at DESC LIMIT 1) AS last ON true
    LEFT JOIN LATERAL (SELECT * FROM reading
                        WHERE system_id = system.id AND quantity_code = quantity.code AND account_id IS NOT NULL
                          AND voided_at IS NULL AND at > $2::timestamptz - interval '60 days'
                        ORDER BY at DESC LIMIT 1) AS used ON true
    LEFT JOIN LATERAL (SELECT * FROM reading_with_vote
                        WHERE system_id = system.id AND quantity_code = quantity.code AND trust = 'unconfirmed'
                          AND voided_at IS NULL AND at > $2::timestamptz - interval '7 days'
                        ORDER BY at DESC, created_at DESC LIMIT 1) AS waiting ON true
    LEFT JOIN LATERAL (SELECT json_agg(json_build_object('at', extract(epoch FROM at) * 1000, 'value', value, 'uncertainty', uncertainty, 'kitId', kit_id,
                                'bound', CASE WHEN below_detection THEN 'below' WHEN above_scale THEN 'above' END) ORDER BY at) AS points
                         FROM (SELECT at, value, uncertainty, kit_id, below_detection, above_scale FROM reading
                                WHERE system_id = system.id AND quantity_code = quantity.code AND slot_id IS NULL AND account_id IS NOT NULL
                                  AND voided_at IS NULL AND trust <> 'refuted' AND at > $2::timestamptz - interval '120 days'
                                ORDER BY at DESC LIMIT $3) AS newest) AS series ON true
   WHERE system.id = ANY($1)
   ORDER BY array_position(system.bench_order, quantity.code), quantity.position, quantity.code`;

// Asked of each kit and system: probes are kits too, and their readings are too many to be gone through.
const kitUseQuery = `
  SELECT kit.id AS "kitId", system.id AS "systemId" FROM kit CROSS JOIN system
   WHERE EXISTS (SELECT FROM reading WHERE kit_id = kit.id AND system_id = system.id AND voided_at IS NULL
                    AND at > $1::timestamptz - interval '60 days')`;

/** So many results are drawn (own choice: about a fortnight of daily tests). */
const POINTS = 14;

/** How many tests are offered in a system that has neither readings, bands nor routines: the first of the bench order (own choice). */
const EVERYDAY = 6;

/** The tests of each system, in its bench order, each as it was last done there. A fixed number of queries, however many systems. */
export async function testRows(
  { db, pool }: { db: Reader; pool: pg.Pool },
  systemIds: readonly string[],
  now: Date,
  timeZone: string,
): Promise<(systemId: string) => TestRow[]> {
  if (systemIds.length === 0) return () => [];
  const [quantities, { rows }, uses] = await Promise.all([
    listQuantities(db),
    pool.query<Row>(rowQuery, [systemIds, now, POINTS]),
    pool.query<KitUse>(kitUseQuery, [now]),
  ]);
  const { methods } = await loadInstrumentCatalog(
    db,
    quantities.map((quantity) => quantity.code),
  );
  const codes = [...new Set(rows.map((row) => row.code))];
  const histories = await systemHistories(db, systemIds, codes, now);
  const expectsOf = (quantity: Quantity, systemId: string) =>
    expected(quantity, histories.get(systemId)?.get(quantity.code), methods, now);
  const byCode = new Map(quantities.map((quantity) => [quantity.code, quantity]));
  const choices = new Map(
    quantities.map(({ code }) => [
      code,
      instrumentChoices(methods.filter((one) => one.quantityCode === code)),
    ]),
  );
  const biases = await kitBiases(pool, kitsNamed(rows, [...choices.values()].flat()));
  const hows = new Map([...choices].map(([code, ways]) => [code, withKitDoubts(ways, biases)]));
  return (systemId) => {
    const own = rows.filter((row) => row.systemId === systemId);
    const known = own.filter((row) => row.known);
    return (known.length === 0 ? own.slice(0, EVERYDAY) : known).flatMap((row) => {
      const quantity = byCode.get(row.code);
      return quantity === undefined
        ? []
        : [
            {
              ...testRow(withoutBias(row, biases), quantity, {
                hows: ownKitsFirst(hows.get(row.code) ?? [], systemId, uses.rows),
                ago: (at) => agoWords(at, timeZone, now),
              }),
              expects: expectsOf(quantity, systemId),
            },
          ];
    });
  };
}

/** The kits that tests are offered with or were made with, each once. */
const kitsNamed = (rows: readonly Row[], choices: readonly KitChoice[]): string[] => [
  ...new Set(
    [
      ...choices.map(kitOf),
      ...rows.flatMap(({ lastKitId, points }) => [
        lastKitId ?? '',
        ...points.map(({ kitId }) => kitId ?? ''),
      ]),
    ].filter((id) => id !== ''),
  ),
];

interface CorrectedRow extends Omit<Row, 'points'> {
  /** The last value without what its kit is known to be off; null where nothing is known against it. */
  corrected: number | null;
  points: TestSeries['points'];
}

/** The last results of a test without what their kits are known to be off. */
function withoutBias(row: Row, biases: ReadonlyMap<string, KitBias>): CorrectedRow {
  const { value, uncertainty, below, above, lastKitId } = row;
  const last =
    value === null
      ? null
      : removeBias({ value, uncertainty: uncertainty ?? 0, below, above }, biases.get(lastKitId ?? ''));
  const points = row.points.map(({ kitId, ...point }) => {
    const read = { ...point, below: point.bound === 'below', above: point.bound === 'above' };
    return { ...point, ...removeBias(read, biases.get(kitId ?? '')) };
  });
  return { ...row, points, corrected: last?.value ?? null };
}

/** What a result of this quantity is judged by, as JSON; '' where nothing is known of it. */
function expected(
  quantity: Quantity,
  history: ReadingHistory | undefined,
  methods: readonly { id: string; quantityCode: string; absolute: number; relative: number }[],
  now: Date,
): string {
  if (history === undefined) return '';
  const context = { quantity, ...history };
  const own = methods.filter(({ quantityCode }) => quantityCode === quantity.code);
  const expects: Expects = {
    at: now.getTime(),
    limits: surpriseLimits(context, now),
    tomorrow: surpriseLimits(context, daysAfter(now, 1)).window,
    methods: Object.fromEntries(own.map(({ id, absolute, relative }) => [id, [absolute, relative]])),
  };
  return JSON.stringify(expects);
}

function testRow(
  row: CorrectedRow,
  quantity: Quantity,
  { hows, ago }: { hows: KitChoice[]; ago: (at: Date) => string },
): Omit<TestRow, 'expects'> {
  const { low, high, waiting } = row;
  const wanted = ownUnit(quantity.code) ?? row.unit ?? quantity.displayUnit;
  const units = unitChoices(quantity).map((choice) => unitChoice(row, quantity, choice, ago));
  const unit = units.find(({ value }) => value === wanted) ?? units[0];
  const inUnit = {
    ...quantity,
    displayUnit: unit?.value ?? wanted,
    decimals: unit?.decimals ?? quantity.decimals,
  };
  return {
    code: quantity.code,
    name: quantity.name,
    said: unit?.said ?? '',
    keeps: sayBand(inUnit, low, high),
    usual: unit?.usualSaid ?? '',
    units,
    unit: inUnit.displayUnit,
    hows,
    how: chosenKit(row, hows),
    dilutes: canBeDiluted(quantity.code),
    series: JSON.stringify({ points: row.points, low, high } satisfies TestSeries),
    waits:
      waiting === null ? null : { said: sayReading(inUnit, waiting), advice: repeatAdvice(inUnit, waiting) },
  };
}

/** A unit with all that the row says in it, so that words and field always have the same one. */
function unitChoice(
  row: CorrectedRow,
  quantity: Quantity,
  choice: Choice,
  ago: (at: Date) => string,
): UnitChoice {
  const { value, below, above, at, trust, low, high } = row;
  const decimals = decimalsOf(quantity, choice.value);
  const inUnit = { ...quantity, displayUnit: choice.value, decimals };
  const unsure = trust === 'unconfirmed' ? ', not confirmed' : '';
  const right = row.corrected === null ? '' : `, corrected for its kit ${say(inUnit, row.corrected)}`;
  const last =
    value === null || at === null
      ? 'not tested here yet'
      : `${sayReading(inUnit, { value, below, above })}${right}, ${ago(at)}${unsure}`;
  const band = sayBand(inUnit, low, high);
  return {
    ...choice,
    usual: typingRange(quantity, choice.value, quantity.plausibleLow, quantity.plausibleHigh),
    usualSaid: sayBand(inUnit, quantity.plausibleLow, quantity.plausibleHigh) ?? '',
    said: band === null ? last : `${last}; ${row.starting ? 'starting band' : 'keep'} ${band}`,
    decimals,
  };
}

/** Decimals in a unit; the quantity's own where the unit cannot say the middle of its range. */
function decimalsOf(quantity: Quantity, unit: string): number {
  try {
    return decimalsIn(quantity, unit);
  } catch (error) {
    if (error instanceof RangeError) return quantity.decimals;
    throw error;
  }
}

/**
 * A range of canonical values in a unit that a reading can be entered in, so that a tablet without a network can ask
 * whether a number is meant. Rounded to four digits; null where the unit cannot say an end of it.
 */
export function typingRange<E extends number | null>(
  quantity: Pick<Quantity, 'code' | 'canonicalUnit'>,
  unit: string,
  low: E,
  high: E,
): { low: E; high: E } | null {
  const end = (value: E): E =>
    (value === null
      ? null
      : Number(convert(quantity.code, value, quantity.canonicalUnit, unit).toPrecision(4))) as E;
  try {
    return { low: end(low), high: end(high) };
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}
