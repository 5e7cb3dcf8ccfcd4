import type pg from 'pg';
import type { SystemQuantity } from '../../generated/prisma/client.ts';
import type { Reader } from '../../platform/service.ts';
import { ownUnit } from '../../platform/units/units.ts';
import { agoWords } from '../../platform/words/times.ts';
import { hourMs } from '../../science/numeric/time.ts';
import { canBeDiluted } from '../entry/entry.rules.ts';
import { type BiasCorrection, kitBiases, withBiasCorrection } from '../kits/bias.ts';
import { loadInstrumentCatalog } from '../kits/instruments.ts';
import { chosenKit, type KitChoice, kitOf, withKitDoubts } from '../kits/kit-choice.rules.ts';
import {
  listQuantities,
  type Quantity,
  say,
  sayBand,
  sayReading,
  unitChoices,
} from '../quantities/quantities.ts';
import { repeatAdvice } from '../trust/trust.rules.ts';
import { formOrderOf, inFormOrder } from './form-order.ts';
import { lastDosesSql } from './known-hours.ts';
import { fieldNames } from './readings.schema.ts';
import { type LatestReading, latestReadings } from './series.ts';
import { sinceDoseWords } from './table.ts';

/** One choice of a list. */
export interface Choice {
  value: string;
  text: string;
}

/** One row of the readings form, as it is drawn. */
export interface EntryFormRow {
  code: string;
  name: string;
  names: ReturnType<typeof fieldNames>;
  units: Choice[];
  unit: string;
  hows: KitChoice[];
  how: string;
  /** "8.3 dKH, 3 h ago", or what there is instead. */
  last: string;
  keeps: string | null;
  /** Ways the number may have been read; empty where there is one. */
  modes: Choice[];
  /** A sample of it can be diluted. */
  dilutes: boolean;
  /** The unconfirmed reading that a repeat would settle. */
  waits: { said: string; reason: string; advice: string } | null;
  /** Rarely tested here: stands below the others. */
  rare: boolean;
}

/** So many rows of the form are shown for a system that was never tested: the first of the usual order; own choice. */
const rowsShownAtFirst = 8;

interface LastUsed {
  quantityCode: string;
  methodId: string | null;
  kitId: string | null;
  unit: string;
}

/**
 * What was used last for each quantity, within two months: on this system by this person, else on this system by
 * anybody (a kit often belongs to one system), else by this person elsewhere. One query by the readings' index.
 */
const lastUsedQuery = `
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
  SELECT DISTINCT ON (quantity_code) quantity_code AS "quantityCode", value, below_detection AS below, above_scale AS above, uncertainty, trust_reason AS reason
    FROM reading_with_vote
   WHERE system_id = $1 AND trust = 'unconfirmed' AND voided_at IS NULL AND at > $2::timestamptz - interval '7 days' AND at <= $2
   ORDER BY quantity_code, at DESC, created_at DESC`;

interface WaitingRow {
  quantityCode: string;
  value: number;
  below: boolean;
  above: boolean;
  uncertainty: number;
  reason: string;
}

interface Database {
  db: Reader;
  pool: pg.Pool;
}

interface EntryFormRequest {
  systemId: string;
  personId: string;
  now: Date;
  timeZone: string;
}

/** The rows of the form for one system, in its own order, with what this person used last already chosen. */
export async function entryFormRows(
  around: Database,
  { systemId, personId, now, timeZone }: EntryFormRequest,
): Promise<EntryFormRow[]> {
  const [all, own, waits, doses] = await Promise.all([
    listQuantities(around.db),
    formOrderOf(around.db, systemId),
    around.pool.query<WaitingRow>(waitingQuery, [systemId, now]),
    around.pool.query<{ quantityCode: string; at: Date | null }>(lastDosesSql, [systemId, now]),
  ]);
  const quantities = inFormOrder(all, own);
  const codes = quantities.map((quantity) => quantity.code);
  const waiting = new Map(waits.rows.map((row) => [row.quantityCode, row]));
  const [catalog, latest, uses, targets] = await Promise.all([
    loadInstrumentCatalog(around.db, codes),
    latestReadings(around.pool, [systemId]),
    around.pool.query<LastUsed>(lastUsedQuery, [personId, now, systemId]),
    around.db.systemQuantity.findMany({ where: { systemId } }),
  ]);
  const newest = [...(latest.get(systemId)?.values() ?? [])];
  const corrected = new Map((await withBiasCorrection(around.pool, newest)).map((one) => [one.id, one]));
  const kitIds = instrumentChoices(catalog.methods).map(kitOf);
  const biases = await kitBiases(
    around.pool,
    kitIds.filter((id) => id !== ''),
  );
  return quantities.map((quantity, i) => {
    const last = latest.get(systemId)?.get(quantity.code);
    const target = targets.find((one) => one.quantityCode === quantity.code);
    const use = uses.rows.find((one) => one.quantityCode === quantity.code);
    const methods = catalog.methods.filter((method) => method.quantityCode === quantity.code);
    const hows = withKitDoubts(instrumentChoices(methods), biases);
    const waits = waiting.get(quantity.code);
    const dose = doses.rows.find((one) => one.quantityCode === quantity.code);
    return {
      code: quantity.code,
      name: quantity.name,
      names: fieldNames(quantity.code),
      units: unitChoices(quantity),
      unit: ownUnit(quantity.code) ?? use?.unit ?? quantity.displayUnit,
      hows,
      how: chosenKit(use, hows),
      last:
        lastReadingWords(quantity, last === undefined ? undefined : corrected.get(last.id), now, timeZone) +
        doseWords(dose?.at, now),
      keeps: keepsWords(quantity, target),
      modes: readingModeChoices(methods),
      dilutes: canBeDiluted(quantity.code),
      waits:
        waits === undefined
          ? null
          : {
              said: sayReading(quantity, waits),
              reason: waits.reason,
              advice: repeatAdvice(quantity, waits),
            },
      rare:
        own.length === 0
          ? i >= rowsShownAtFirst && last === undefined && target === undefined
          : i >= own.length && last === undefined && target === undefined,
    };
  });
}

/** "keeps 7.0 to 9.0 dKH", or that nobody has chosen the band yet; null without one. */
function keepsWords(quantity: Quantity, target: SystemQuantity | undefined): string | null {
  const band = sayBand(quantity, target?.bandLow ?? null, target?.bandHigh ?? null);
  return band === null ? null : `${target?.starting ? 'starting band' : 'keeps'} ${band}`;
}

/** Ways a number may have been read, where one of the methods knows more than one. */
export function readingModeChoices(methods: readonly { sideDivisor: number | null }[]): Choice[] {
  const side = methods.find(({ sideDivisor }) => sideDivisor !== null)?.sideDivisor;
  return side === undefined || side === null ? [] : modeChoicesWith(side);
}

const modeChoicesWith = (side: number): Choice[] => [
  { value: '', text: 'read as usual' },
  { value: 'side', text: `through the side, ÷ ${side}` },
];

/** Nothing where no dose is logged, or nobody knows at what hour it was. */
function doseWords(at: Date | null | undefined, now: Date): string {
  return at == null ? '' : `; now ${sinceDoseWords((now.getTime() - at.getTime()) / hourMs)}`;
}

type Methods = Awaited<ReturnType<typeof loadInstrumentCatalog>>['methods'];

/** Every method with its kits in use, the newest kit first, then the method without a kit named. */
export function instrumentChoices(methods: Methods): Choice[] {
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

function lastReadingWords(
  quantity: Quantity,
  last: (LatestReading & { corrected: BiasCorrection | null }) | undefined,
  now: Date,
  timeZone: string,
): string {
  if (last === undefined) return 'not tested here yet';
  const waits = last.trust === 'unconfirmed' ? ', unconfirmed' : '';
  const right =
    last.corrected === null ? '' : `, corrected for its kit ${say(quantity, last.corrected.value)}`;
  return `${sayReading(quantity, last)}${right}, ${agoWords(last.at, timeZone, now)}${waits}`;
}
