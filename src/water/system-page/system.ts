import type pg from 'pg';
import type { SystemQuantity } from '../../generated/prisma/client.ts';
import type { Reader } from '../../platform/service.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { readsWrong } from '../kits/bias.rules.ts';
import { type KitBias, kitBiases } from '../kits/bias.ts';
import { type Dose, listDoses } from '../log/doses.ts';
import { type Feeding, listFeedings } from '../log/feedings.ts';
import { listWaterChanges, type WaterChange } from '../log/water-changes.ts';
import { changeWords, effectWords, feedingWords } from '../log/words.rules.ts';
import { listQuantities, type Quantity } from '../quantities/quantities.ts';
import { type LatestReading, latestReadings } from '../readings/readings.ts';
import { type SourcePart, sourceParts } from '../readings/sources.ts';
import { openAlertsOf, type SystemAlert } from '../systems/open-alerts.ts';
import type { WaterSystem } from '../systems/systems.ts';
import { listTargets } from '../targets/targets.ts';
import { daysAhead, type Outlook, outlookOf } from './forecast.rules.ts';
import { outlookHistory } from './forecast.ts';

/** A kit that a quantity was read with here. */
export interface UsedKit {
  id: string;
  label: string;
  openedAt: Date;
}

/** A reading that waits for a second one. */
export interface Waiting {
  id: string;
  quantityCode: string;
  at: Date;
  value: number;
  below: boolean;
  uncertainty: number;
  trustReason: string;
}

/** A vessel of the system. */
export interface Tank {
  id: string;
  name: string;
  racks: number;
}

/** What the page of one system shows of one quantity over some days. */
export interface SystemView {
  quantities: Quantity[];
  quantity: Quantity;
  latest: Map<string, LatestReading>;
  targets: Map<string, SystemQuantity>;
  parts: SourcePart[];
  kits: UsedKit[];
  biases: Map<string, KitBias>;
  outlook: Outlook | null;
  changes: WaterChange[];
  doses: Dose[];
  feedings: Feeding[];
  waiting: Waiting[];
  alerts: SystemAlert[];
  tanks: Tank[];
  /** When the quantity was first read here; null for never. */
  since: Date | null;
}

/** Entries of each log that are drawn as ticks; more than that would be a black bar. */
const mostTicks = 5000;

/** Kits that the quantity was read with here, in the period or in the year that a forecast looks back. */
const usedKits = `
  SELECT kit.id, kit.label, kit.opened_at AS "openedAt" FROM kit JOIN method ON method.id = kit.method_id
   WHERE method.quantity_code = $2
     AND EXISTS (SELECT 1 FROM reading WHERE reading.system_id = $1 AND reading.quantity_code = $2 AND reading.kit_id = kit.id
                    AND reading.at > least($3::timestamptz, $4::timestamptz - interval '400 days') AND reading.at <= $4)
   ORDER BY kit.opened_at`;

const firstRead = `
  SELECT min(at) AS since FROM reading
   WHERE system_id = $1 AND quantity_code = $2 AND voided_at IS NULL AND trust <> 'refuted' AND slot_id IS NULL`;

/** A reading that nothing answered within a week is history: it stays unconfirmed, and is no longer asked about. */
const waiting = `
  SELECT reading.id, quantity_code AS "quantityCode", at, value, below_detection AS below, uncertainty, trust_reason AS "trustReason"
    FROM reading JOIN quantity ON quantity.code = quantity_code
   WHERE system_id = $1 AND trust = 'unconfirmed' AND voided_at IS NULL AND at > $2::timestamptz - interval '7 days' AND at <= $2
   ORDER BY quantity.position, at DESC`;

const tanks = `
  SELECT tank.id, tank.name, count(rack.id)::int AS racks FROM tank LEFT JOIN rack ON rack.tank_id = tank.id
   WHERE tank.system_id = $1 GROUP BY tank.id ORDER BY tank.position, tank.name`;

interface Asked {
  systemId: string;
  code: string;
  from: Date;
  to: Date;
  timeZone: string;
}

/** Reads everything for the page; the first quantity with readings when none is named. */
export async function readSystem(around: { db: Reader; pool: pg.Pool }, asked: Asked): Promise<SystemView> {
  const { systemId, from, to } = asked;
  const { db, pool } = around;
  const [quantities, latest, targets] = await Promise.all([
    listQuantities(db),
    latestReadings(pool, [systemId]),
    listTargets(db, systemId),
  ]);
  const own = latest.get(systemId) ?? new Map<string, LatestReading>();
  const quantity =
    quantities.find((one) => one.code === asked.code) ??
    quantities.find((one) => own.has(one.code)) ??
    quantities[0];
  if (quantity === undefined) throw new Error('there are no quantities; load the care library');
  const period = { systemId, from, to, limit: mostTicks };
  const [measured, changes, doses, feedings, waits, first, alerts, vessels] = await Promise.all([
    readMeasured(pool, { ...asked, code: quantity.code }, quantity),
    listWaterChanges(pool, period),
    listDoses(pool, period),
    listFeedings(pool, period),
    pool.query<Waiting>(waiting, [systemId, to]),
    pool.query<{ since: Date | null }>(firstRead, [systemId, quantity.code]),
    openAlertsOf(pool, [systemId], to),
    pool.query<Tank>(tanks, [systemId]),
  ]);
  return {
    quantities,
    quantity,
    latest: own,
    targets,
    ...measured,
    changes,
    doses,
    feedings,
    waiting: waits.rows,
    alerts,
    tanks: vessels.rows,
    since: first.rows[0]?.since ?? null,
  };
}

/** What was measured, with the bias of its kits and what is expected from it. */
async function readMeasured(pool: pg.Pool, asked: Asked, quantity: Quantity) {
  const { systemId, code, from, to } = asked;
  const kits = (await pool.query<UsedKit>(usedKits, [systemId, code, from, to])).rows;
  const biases = await kitBiases(
    pool,
    kits.map((kit) => kit.id),
  );
  const wrong = new Map(
    [...biases].flatMap(([id, kit]) => (readsWrong(kit) ? [[id, 1 + kit.bias] as const] : [])),
  );
  const [parts, history] = await Promise.all([
    sourceParts(pool, { ...asked, wrong }),
    outlookHistory(pool, { systemId, code, now: to }, biases),
  ]);
  const days = (to.getTime() - from.getTime()) / 86_400_000;
  return { parts, kits, biases, outlook: outlookOf(quantity, history, to, daysAhead(code, days)) };
}

const logShown = 5;

/** The last of what was changed, dosed and fed, as its page lists it. */
export function logsOf(view: SystemView, system: WaterSystem) {
  const timeline = <T extends { id: string; at: Date; by: string | null }>(
    entries: readonly T[],
    what: (entry: T) => string,
    note: (entry: T) => string,
  ) =>
    entries.slice(0, logShown).map((entry) => ({
      at: entry.at,
      what: what(entry),
      note: note(entry),
      who: entry.by ?? '',
      href: '',
      voided: false,
    }));
  const words = (quantities: readonly Quantity[]) => (dose: SystemView['doses'][number]) =>
    `${numberWords(dose.amount)} ${dose.unit} ${dose.substance}${dose.effect === null ? '' : `; ${effectWords(dose, quantities)}`}`;
  return [
    {
      title: 'Water changes',
      path: 'water-changes',
      entries: timeline(
        view.changes,
        (change) => changeWords(change, system),
        (change) => change.note,
      ),
    },
    {
      title: 'Doses',
      path: 'doses',
      entries: timeline(view.doses, words(view.quantities), (dose) => dose.note),
    },
    {
      title: 'Feedings',
      path: 'feedings',
      entries: timeline(view.feedings, feedingWords, (feeding) => feeding.response),
    },
  ];
}
