import type pg from 'pg';
import type { Reader } from '../../platform/service.ts';
import { agoWords } from '../../platform/words/times.ts';
import { hourMs } from '../../science/numeric/time.ts';
import { type Corrected, withCorrected } from '../kits/bias.ts';
import { benchOf } from '../kits/instruments.ts';
import { listQuantities, type Quantity, say, sayBand, unitChoices } from '../quantities/quantities.ts';
import { whatSettles } from '../trust/trust.rules.ts';
import { fieldNames, readingModes } from './readings.schema.ts';
import { type LatestReading, latestReadings } from './readings.ts';
import { phaseWords } from './table.ts';

/** One choice of a list. */
export interface Choice {
  value: string;
  text: string;
}

/** One row of the readings form, as it is drawn. */
export interface BenchRow {
  code: string;
  name: string;
  names: ReturnType<typeof fieldNames>;
  units: Choice[];
  unit: string;
  hows: Choice[];
  how: string;
  /** "8.3 dKH, 3 h ago", or what there is instead. */
  last: string;
  keeps: string | null;
  /** Ways the number may have been read; empty where there is one. */
  modes: Choice[];
  /** A repeat that is waited for, with what it would settle. */
  waits: { said: string; reason: string; advice: string } | null;
  /** Rarely tested here: stands below the others. */
  rare: boolean;
}

/** Rows that stand open without having been tested here before: the first of the bench order. */
const everyday = 8;

interface Use {
  quantityCode: string;
  methodId: string | null;
  kitId: string | null;
  unit: string;
}

/**
 * What was used last for each quantity, within two months: on this system by this person, else on this system by
 * anybody (a kit often belongs to one system), else by this person elsewhere. One query by the readings' index.
 */
const lastUse = `
  WITH used AS (
    SELECT quantity.code, mine.system_id = $3::uuid AS here, true AS own, mine.at, mine.method_id, mine.kit_id, mine.entered_unit
      FROM quantity CROSS JOIN system
      JOIN LATERAL (SELECT * FROM reading WHERE reading.system_id = system.id AND reading.quantity_code = quantity.code
                      AND voided_at IS NULL AND account_id = $1 AND at > $2::timestamptz - interval '60 days'
                    ORDER BY at DESC LIMIT 1) AS mine ON true
    UNION ALL
    SELECT quantity.code, true, false, anybodys.at, anybodys.method_id, anybodys.kit_id, anybodys.entered_unit
      FROM quantity
      JOIN LATERAL (SELECT * FROM reading WHERE reading.system_id = $3::uuid AND reading.quantity_code = quantity.code
                      AND voided_at IS NULL AND at > $2::timestamptz - interval '60 days'
                    ORDER BY at DESC LIMIT 1) AS anybodys ON true)
  SELECT DISTINCT ON (code) code AS "quantityCode", method_id AS "methodId", kit_id AS "kitId", entered_unit AS unit
    FROM used ORDER BY code, here DESC, own DESC, at DESC`;

/** Readings of the last week that wait for a second one: the newest of each quantity. */
const waitingQuery = `
  SELECT DISTINCT ON (quantity_code) quantity_code AS "quantityCode", value, below_detection AS below, uncertainty, trust_reason AS reason
    FROM reading
   WHERE system_id = $1 AND trust = 'unconfirmed' AND voided_at IS NULL AND at > $2::timestamptz - interval '7 days' AND at <= $2
   ORDER BY quantity_code, at DESC, created_at DESC`;

/** When each of these quantities was last dosed, within a week. */
const lastDoses = `
  SELECT quantity_code AS "quantityCode", max(at) AS at FROM dose
   WHERE system_id = $1 AND voided_at IS NULL AND at > $2::timestamptz - interval '7 days' AND at <= $2
     AND quantity_code IN ('alkalinity', 'calcium', 'magnesium') GROUP BY 1`;

interface WaitingRow {
  quantityCode: string;
  value: number;
  below: boolean;
  uncertainty: number;
  reason: string;
}

interface Around {
  db: Reader;
  pool: pg.Pool;
}

interface Asked {
  systemId: string;
  personId: string;
  now: Date;
  timeZone: string;
}

/** The rows of the form for one system, in its own order, with what this person used last already chosen. */
export async function benchRows(
  around: Around,
  { systemId, personId, now, timeZone }: Asked,
): Promise<BenchRow[]> {
  const [all, system, waits, doses] = await Promise.all([
    listQuantities(around.db),
    around.db.system.findUnique({ where: { id: systemId }, select: { benchOrder: true } }),
    around.pool.query<WaitingRow>(waitingQuery, [systemId, now]),
    around.pool.query<{ quantityCode: string; at: Date }>(lastDoses, [systemId, now]),
  ]);
  const own = system?.benchOrder ?? [];
  const quantities = inOrder(all, own);
  const codes = quantities.map((quantity) => quantity.code);
  const waiting = new Map(waits.rows.map((row) => [row.quantityCode, row]));
  const [bench, latest, uses, targets] = await Promise.all([
    benchOf(around.db, codes),
    latestReadings(around.pool, [systemId]),
    around.pool.query<Use>(lastUse, [personId, now, systemId]),
    around.db.systemQuantity.findMany({ where: { systemId } }),
  ]);
  const newest = [...(latest.get(systemId)?.values() ?? [])];
  const corrected = new Map((await withCorrected(around.pool, newest)).map((one) => [one.id, one]));
  return quantities.map((quantity, i) => {
    const last = latest.get(systemId)?.get(quantity.code);
    const target = targets.find((one) => one.quantityCode === quantity.code);
    const use = uses.rows.find((one) => one.quantityCode === quantity.code);
    const methods = bench.methods.filter((method) => method.quantityCode === quantity.code);
    const hows = howChoices(methods);
    const waits = waiting.get(quantity.code);
    const dose = doses.rows.find((one) => one.quantityCode === quantity.code);
    return {
      code: quantity.code,
      name: quantity.name,
      names: fieldNames(quantity.code),
      units: unitChoices(quantity),
      unit: use?.unit ?? quantity.displayUnit,
      hows,
      how: chosenHow(hows, use),
      last:
        lastWords(quantity, last === undefined ? undefined : corrected.get(last.id), now, timeZone) +
        doseWords(dose?.at, now),
      keeps: sayBand(quantity, target?.bandLow ?? null, target?.bandHigh ?? null),
      modes: modesOf(methods),
      waits:
        waits === undefined
          ? null
          : {
              said: say(quantity, waits.value, waits.below),
              reason: waits.reason,
              advice: whatSettles(quantity, waits),
            },
      rare:
        own.length === 0
          ? i >= everyday && last === undefined && target === undefined
          : i >= own.length && last === undefined && target === undefined,
    };
  });
}

/** The quantities in a system's own order; those that it does not name follow as usual. */
export function inOrder<Q extends { code: string }>(quantities: readonly Q[], own: readonly string[]): Q[] {
  const place = (code: string) => (own.includes(code) ? own.indexOf(code) : own.length);
  return [...quantities].sort((a, b) => place(a.code) - place(b.code));
}

/** Ways a number may have been read, where one of the methods knows more than one. */
export function modesOf(methods: readonly { sideDivisor: number | null }[]): Choice[] {
  const side = methods.find(({ sideDivisor }) => sideDivisor !== null)?.sideDivisor;
  return side === undefined || side === null ? [] : modeChoices(side);
}

/** As usual; through the side, where that is possible; a diluted sample. */
export function modeChoices(side: number | null): Choice[] {
  const dilutions = readingModes.filter((mode) => mode !== 'side');
  return [
    { value: '', text: 'read as usual' },
    ...(side === null ? [] : [{ value: 'side', text: `through the side, ÷ ${side}` }]),
    ...dilutions.map((times) => ({ value: times, text: `sample diluted ${times} times` })),
  ];
}

function doseWords(at: Date | undefined, now: Date): string {
  return at === undefined ? '' : `; now ${phaseWords((now.getTime() - at.getTime()) / hourMs)}`;
}

type Methods = Awaited<ReturnType<typeof benchOf>>['methods'];

/** Every method with its kits in use, the newest kit first, then the method without a kit named. */
export function howChoices(methods: Methods): Choice[] {
  return methods
    .filter(({ retiredAt }) => retiredAt === null)
    .flatMap((method) => {
      const kits = method.kits
        .filter((kit) => kit.retiredAt === null)
        .sort((a, b) => b.openedAt.getTime() - a.openedAt.getTime());
      const named = kits.map((kit) => ({
        value: `${method.id}/${kit.id}`,
        text: `${method.name}, ${kit.label}`,
      }));
      return [
        ...named,
        { value: method.id, text: kits.length > 0 ? `${method.name}, no kit named` : method.name },
      ];
    });
}

/** What was used last, when it still is in use; the quantity's usual method with its newest kit otherwise. */
function chosenHow(hows: readonly Choice[], use: Use | undefined): string {
  const wanted = use?.kitId ? `${use.methodId}/${use.kitId}` : use?.methodId;
  const same =
    hows.find((how) => how.value === wanted) ??
    hows.find((how) => use?.methodId && how.value.startsWith(use.methodId));
  return (same ?? hows[0])?.value ?? '';
}

function lastWords(
  quantity: Quantity,
  last: (LatestReading & { corrected: Corrected | null }) | undefined,
  now: Date,
  timeZone: string,
): string {
  if (last === undefined) return 'not tested here yet';
  const waits = last.trust === 'unconfirmed' ? ', unconfirmed' : '';
  const right =
    last.corrected === null ? '' : `, corrected for its kit ${say(quantity, last.corrected.value)}`;
  return `${say(quantity, last.value, last.below)}${right}, ${agoWords(last.at, timeZone, now)}${waits}`;
}
