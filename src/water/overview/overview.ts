import type pg from 'pg';
import { lastEvents } from '../../farm/events/events.ts';
import type { SystemQuantity } from '../../generated/prisma/client.ts';
import type { Reader } from '../../platform/service.ts';
import { dayOf, daysBefore } from '../../science/numeric/time.ts';
import { type BiasCorrection, correctionOf } from '../kits/bias.ts';
import { votingReadings } from '../probe-days/voting.ts';
import { type LatestReading, latestReadings } from '../readings/series.ts';
import { openAlertsOf, type SystemAlert } from '../systems/open-alerts.ts';
import type { SystemState } from '../systems/state.rules.ts';
import { systemStates } from '../systems/state.ts';
import { type KeptProbeDoubt, probeDoubtsOf } from '../trust/probe-doubts.ts';

/** One system in the list. */
export interface SystemSummary {
  id: string;
  name: string;
  volumeL: number;
  tanks: number;
}

/** One point of a sparkline. */
export interface HistoryPoint {
  systemId: string;
  quantityCode: string;
  at: Date;
  value: number;
  below: boolean;
  above: boolean;
  uncertainty: number;
  kitId: string | null;
  trust: string;
}

/** Which of a site's systems: those with this text in their name, and of these one page; all where nothing is said. */
export interface SystemsQuestion {
  siteId: string;
  text?: string;
  /** From 1. */
  page?: number;
  perPage?: number;
}

const systemsQuery = `
  SELECT system.id, system.name, system.volume_l AS "volumeL",
         (SELECT count(*)::int FROM tank WHERE tank.system_id = system.id) AS tanks, count(*) OVER ()::int AS total
    FROM system
   WHERE system.site_id = $1 AND system.retired_at IS NULL AND strpos(lower(system.name), lower($2)) > 0
   ORDER BY system.position, system.name, system.id LIMIT $3 OFFSET $4`;

/** A site's systems, with how many there are in all. One query. */
export async function listSystems(
  pool: pg.Pool,
  { siteId, text = '', page = 1, perPage }: SystemsQuestion,
): Promise<{ systems: SystemSummary[]; total: number }> {
  const { rows } = await pool.query<SystemSummary & { total: number }>(systemsQuery, [
    ...[siteId, text, perPage ?? null],
    perPage === undefined ? 0 : (page - 1) * perPage,
  ]);
  return { systems: rows.map(({ total: _, ...system }) => system), total: rows[0]?.total ?? 0 };
}

const historyQuery = `
  SELECT system_id AS "systemId", quantity_code AS "quantityCode", at, value, below_detection AS below, above_scale AS above, uncertainty, kit_id AS "kitId", trust::text
    ${votingReadings({ systems: '$1', codes: '$2', since: '$3', until: '$4' })}
   WHERE voided_at IS NULL AND trust <> 'refuted'
   ORDER BY at, created_at`;

export interface Overview {
  systems: readonly SystemSummary[];
  latest: Map<string, Map<string, LatestReading & { corrected: BiasCorrection | null }>>;
  targets: SystemQuantity[];
  alerts: SystemAlert[];
  states: Map<string, SystemState>;
  /** Probes without a vote: their readings are among neither the latest nor the history. */
  doubts: KeptProbeDoubt[];
  history: HistoryPoint[];
  /** What last changed the habits of each system's water, where something did. */
  events: Map<string, readonly { day: number }[]>;
}

/** Days that the sparklines reach back. */
export const sparklineDays = 30;

/**
 * Everything the list of systems shows, with the history of the given quantities. Readings of kits known to read wrong are
 * corrected. Nine queries.
 */
export async function readOverview(
  db: Reader,
  pool: pg.Pool,
  systems: readonly SystemSummary[],
  codes: readonly string[],
  now: Date,
): Promise<Overview> {
  const ids = systems.map((system) => system.id);
  const from = daysBefore(now, sparklineDays);
  const [latest, targets, alerts, states, history, events, doubts] = await Promise.all([
    latestReadings(pool, ids),
    db.systemQuantity.findMany({ where: { systemId: { in: ids } } }),
    openAlertsOf(pool, ids, now),
    systemStates(pool, { systemIds: ids }, now),
    pool.query<HistoryPoint>(historyQuery, [ids, [...codes], from, now]),
    lastEvents(pool, ids, now),
    probeDoubtsOf(pool, ids),
  ]);
  const newest = [...latest.values()].flatMap((own) => [...own.values()]);
  const corrected = await correctionOf(pool, [...newest, ...history.rows]);
  return {
    systems,
    latest: new Map(
      [
        ...Map.groupBy(
          newest.map((one) => corrected(one)),
          (one) => one.systemId,
        ),
      ].map(([id, own]) => [id, new Map(own.map((one) => [one.quantityCode, one]))]),
    ),
    targets,
    alerts,
    doubts,
    events: new Map([...events].map(([id, { at }]) => [id, [{ day: dayOf(at) }]])),
    states: new Map(states.map((state) => [state.id, state])),
    history: history.rows.map((point) => ({
      ...point,
      value: corrected(point).corrected?.value ?? point.value,
    })),
  };
}
