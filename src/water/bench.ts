import type pg from 'pg';
import type { Reader } from '../platform/service.ts';
import { agoWords } from '../platform/words.ts';
import { benchOf } from './instruments.ts';
import { listQuantities, type Quantity, say, sayBand, unitChoices } from './quantities.ts';
import { fieldNames } from './readings.schema.ts';
import { type LatestReading, latestReadings } from './readings.ts';

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

/** The rows of the form for one system, in bench order, with what this person used last already chosen. */
export async function benchRows(
  around: { db: Reader; pool: pg.Pool },
  { systemId, personId, now, timeZone }: { systemId: string; personId: string; now: Date; timeZone: string },
): Promise<BenchRow[]> {
  const quantities = await listQuantities(around.db);
  const codes = quantities.map((quantity) => quantity.code);
  const [bench, latest, uses, targets] = await Promise.all([
    benchOf(around.db, codes),
    latestReadings(around.pool, [systemId]),
    around.pool.query<Use>(lastUse, [personId, now, systemId]),
    around.db.systemQuantity.findMany({ where: { systemId } }),
  ]);
  return quantities.map((quantity, i) => {
    const last = latest.get(systemId)?.get(quantity.code);
    const target = targets.find((one) => one.quantityCode === quantity.code);
    const use = uses.rows.find((one) => one.quantityCode === quantity.code);
    const hows = howChoices(bench.methods.filter((method) => method.quantityCode === quantity.code));
    return {
      code: quantity.code,
      name: quantity.name,
      names: fieldNames(quantity.code),
      units: unitChoices(quantity),
      unit: use?.unit ?? quantity.displayUnit,
      hows,
      how: chosenHow(hows, use),
      last: lastWords(quantity, last, now, timeZone),
      keeps: sayBand(quantity, target?.bandLow ?? null, target?.bandHigh ?? null),
      rare: i >= everyday && last === undefined && target === undefined,
    };
  });
}

type Methods = Awaited<ReturnType<typeof benchOf>>['methods'];

/** Every method with its kits in use, the newest kit first, then the method without a kit named. */
export function howChoices(methods: Methods): Choice[] {
  return methods.flatMap((method) => {
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

function lastWords(quantity: Quantity, last: LatestReading | undefined, now: Date, timeZone: string): string {
  if (last === undefined) return 'not tested here yet';
  const waits = last.trust === 'unconfirmed' ? ', unconfirmed' : '';
  return `${say(quantity, last.value, last.below)}, ${agoWords(last.at, timeZone, now)}${waits}`;
}
