import type pg from 'pg';
import type { KeptFinding } from '../alerts/apply.ts';
import type { Answer, SubjectType } from '../alerts/finding.ts';
import { worstFirst } from '../alerts/order.ts';
import { stepsOf } from '../alerts/steps.ts';
import type { LedgerReason, LossCause } from '../generated/prisma/enums.ts';
import type { Service } from '../platform/service.ts';
import { buttonOf } from '../watch/actions/actions.rules.ts';
import { largeFigure } from '../watch/alerts/alerts.words.ts';
import { quantityOfAlert } from '../watch/pictures/quantity.rules.ts';
import { type PicturedAlert, smallPictures } from '../watch/pictures/small.ts';
import { type HistoryPoint, listSystems, readOverview } from '../water/overview/overview.ts';
import type { LastValue } from '../water/readings/last-value.rules.ts';
import type { ForecastHistory } from '../water/system-page/forecast.rules.ts';
import { readForecastHistories } from '../water/system-page/forecast.ts';
import type { SystemState } from '../water/systems/state.rules.ts';
import type { DigestAlert } from './content.ts';

/** One system as its line needs it; values canonical, those of kits that are known to read wrong corrected. */
export interface DigestSystemFacts {
  id: string;
  name: string;
  state: SystemState;
  latest: (LastValue & { quantityCode: string; unconfirmed: boolean })[];
  /** Alkalinity over 30 days, oldest first. */
  alkalinity: HistoryPoint[];
  /** Its band of alkalinity. */
  band: { low: number | null; high: number | null } | null;
  /** What its alkalinity is forecast from, as its page does. */
  forecast: ForecastHistory | null;
  /** What last changed the habits of its water, where something did. */
  events: readonly { day: number }[];
}

/** What happened to alerts since a time, newest last. */
export interface AlertEventFacts {
  alertId: string;
  kind: string;
  title: string;
}

export interface StockFacts {
  pieces: number;
  lots: number;
  changes: { reason: LedgerReason; pieces: number }[];
  /** Lots that lost pieces, by code. */
  losing: string[];
  /** The pieces lost by cause, most first. */
  causes: { cause: LossCause; pieces: number }[];
  /** Lots whose newest look is well after one that was not, since the time asked. */
  recovered: string[];
  /** Orders whose hold ended by itself, by number. */
  freed: number[];
}

// An alert that another one explains is told with that one; one that is put off is not told.
const alertQuery = `
  SELECT alert.id, alert.severity, alert.title, alert.finding, alert.rule, alert.facet, alert.subject_type AS "subjectType",
         alert.subject_id AS "subjectId", alert.system_id AS "systemId", alert.opened_at AS "openedAt",
         (SELECT count(DISTINCT other.subject_id)::int FROM open_alert AS other WHERE other.cause_id = alert.id) AS explains
    FROM open_alert AS alert JOIN system ON system.id = alert.system_id
   WHERE system.site_id = $1 AND alert.cause_id IS NULL AND (alert.put_off_until IS NULL OR alert.put_off_until <= $2)
   ORDER BY ${worstFirst('alert')}`;

const putOffQuery = `
  SELECT alert.id, alert.title, alert.put_off_until AS until, coalesce(alert.put_off_reason, '') AS reason
    FROM open_alert AS alert JOIN system ON system.id = alert.system_id
   WHERE system.site_id = $1 AND alert.cause_id IS NULL AND alert.put_off_until > $2
   ORDER BY alert.put_off_until, alert.id`;

/** An alert that somebody put off, when it comes back and why it can wait. */
export interface PutOffFacts {
  id: string;
  title: string;
  until: Date;
  reason: string;
}

export async function putOffNow(pool: pg.Pool, siteId: string, now: Date): Promise<PutOffFacts[]> {
  return (await pool.query<PutOffFacts>(putOffQuery, [siteId, now])).rows;
}

interface AlertRow extends Omit<PicturedAlert, 'lots' | 'began'> {
  title: string;
  finding: KeptFinding;
  explains: number;
}

/** The open alerts as the digest tells them, each with its figure and its small picture. */
export async function alertsNow(
  { pool, db }: Pick<Service, 'pool' | 'db'>,
  siteId: string,
  now: Date,
): Promise<DigestAlert[]> {
  const { rows } = await pool.query<AlertRow>(alertQuery, [siteId, now]);
  const pictured = rows.map((row) => ({
    ...row,
    lots: row.finding.lots ?? [],
    began: row.finding.began ?? null,
    number: row.finding.number,
    said: row.finding.said,
  }));
  const pictures = await smallPictures({ pool, db }, pictured, now);
  return rows.map((row) => ({ ...toldOf(row), picture: pictures.get(row.id) ?? null }));
}

function toldOf({ id, severity, title, finding, explains, ...of }: AlertRow): DigestAlert {
  const { rule, facet, subjectType, systemId } = of;
  const { numbers = '', why = '', firstStep = '', said = [], advice, answer = null, found } = finding;
  const waits = answer !== null && answer.confirmedAt === null && !answer.overdue;
  const asked = { rule, facet, changes: finding.changes ?? null, advice: advice ?? [], limit: finding.limit };
  return {
    ...{ id, severity, numbers, why, firstStep, said, explains },
    title: waits ? (found?.title ?? title) : title,
    steps: stepsOf({ advice, firstStep }),
    large: finding.number === undefined ? null : largeFigure(finding),
    button: buttonOf({ ...asked, subject: { type: subjectType as SubjectType } }),
    about: { systemId, quantity: quantityOfAlert({ rule, facet }) },
    done: waits ? { by: answer.by, at: answer.at } : null,
  };
}

const eventQuery = `
  SELECT alert_event.alert_id AS "alertId", alert_event.kind, alert.title
    FROM alert_event JOIN alert ON alert.id = alert_event.alert_id JOIN system ON system.id = alert.system_id
   WHERE system.site_id = $1 AND alert_event.at > $2 AND alert_event.at <= $3 AND alert.cause_id IS NULL
   ORDER BY alert_event.at, alert_event.id`;

export async function alertEventsBetween(
  pool: pg.Pool,
  siteId: string,
  since: Date,
  now: Date,
): Promise<AlertEventFacts[]> {
  return (await pool.query<AlertEventFacts>(eventQuery, [siteId, since, now])).rows;
}

/** The systems as the list of them shows them. */
export async function systemsNow(
  { db, pool }: Service,
  siteId: string,
  now: Date,
): Promise<DigestSystemFacts[]> {
  const { systems } = await listSystems(pool, { siteId });
  const { latest, states, history, events, targets } = await readOverview(
    db,
    pool,
    systems,
    ['alkalinity'],
    now,
  );
  const forecasts = await readForecastHistories(pool, {
    ...{ systemIds: systems.map(({ id }) => id), code: 'alkalinity' },
    now,
  });
  return systems.map(({ id, name }) => ({
    id,
    name,
    state: states.get(id) ?? { id, name, alerts: 0, putOff: [], tested: null },
    latest: [...(latest.get(id)?.values() ?? [])].map((last) => ({
      ...last,
      unconfirmed: last.trust === 'unconfirmed',
    })),
    alkalinity: history.filter(({ systemId }) => systemId === id),
    band: bandOf(targets.find((one) => one.systemId === id && one.quantityCode === 'alkalinity')),
    forecast: forecasts.get(id) ?? null,
    events: events.get(id) ?? [],
  }));
}

const bandOf = (target: { bandLow: number | null; bandHigh: number | null } | undefined) =>
  target === undefined ? null : { low: target.bandLow, high: target.bandHigh };

const stockQuery = `
  SELECT (SELECT coalesce(sum(pieces), 0)::int FROM lot WHERE site_id = $1) AS pieces,
         (SELECT count(*)::int FROM lot WHERE site_id = $1 AND pieces > 0) AS lots,
         coalesce((SELECT json_agg(json_build_object('reason', reason, 'pieces', pieces)) FROM (
            SELECT reason, sum(change)::int AS pieces FROM ledger_entry JOIN lot ON lot.id = lot_id
             WHERE site_id = $1 AND at > $2 AND at <= $3 AND voided_at IS NULL GROUP BY reason ORDER BY reason) AS summed), '[]') AS changes,
         coalesce((SELECT json_agg(json_build_object('cause', cause, 'pieces', pieces)) FROM (
            SELECT coalesce(cause, 'unknown') AS cause, -sum(change)::int AS pieces FROM ledger_entry JOIN lot ON lot.id = lot_id
             WHERE site_id = $1 AND at > $2 AND at <= $3 AND reason = 'lost' AND voided_at IS NULL GROUP BY 1 ORDER BY 2 DESC, 1) AS lost), '[]') AS causes,
         coalesce((SELECT array_agg(DISTINCT code ORDER BY code) FROM ledger_entry JOIN lot ON lot.id = lot_id
           WHERE site_id = $1 AND at > $2 AND at <= $3 AND reason = 'lost' AND voided_at IS NULL), '{}') AS losing,
         coalesce((SELECT array_agg(code ORDER BY code) FROM lot JOIN LATERAL (
            SELECT array_agg(state ORDER BY at DESC, id DESC) AS states, max(at) AS last FROM (
              SELECT state, at, id FROM condition WHERE lot_id = lot.id AND voided_at IS NULL AND at <= $3
               ORDER BY at DESC, id DESC LIMIT 2) AS looks) AS look ON true
           WHERE site_id = $1 AND look.last > $2 AND look.states[1] = 'well' AND look.states[2] IN ('paling', 'bleached', 'receding')), '{}') AS recovered,
         coalesce((SELECT array_agg(number ORDER BY number) FROM sales_order JOIN order_stage_change AS step ON step.order_id = sales_order.id
           WHERE site_id = $1 AND step.at > $2 AND step.at <= $3 AND step.account_id IS NULL AND step.from_stage = 'held' AND step.stage = 'asked'), '{}') AS freed`;

export async function stockSince(pool: pg.Pool, siteId: string, since: Date, now: Date): Promise<StockFacts> {
  const { rows } = await pool.query<StockFacts>(stockQuery, [siteId, since, now]);
  const [row] = rows;
  if (row === undefined) throw new Error('the database gave no answer');
  return row;
}

/** What became of an alert since a digest told of it. */
export interface AlertNow {
  id: string;
  /** How urgent it is by now. */
  severity: 'now' | 'today' | 'watch';
  clearedAt: Date | null;
  putOffUntil: Date | null;
  answer: Answer | null;
  /** Who put it off last; null where nobody did. */
  putOffBy: string | null;
}

const nowQuery = `
  SELECT alert.id, alert.severity, alert.cleared_at AS "clearedAt", alert.put_off_until AS "putOffUntil", alert.finding->'answer' AS answer,
         (SELECT account.name FROM alert_event JOIN account ON account.id = alert_event.account_id
           WHERE alert_event.alert_id = alert.id AND alert_event.kind = 'put_off' ORDER BY alert_event.at DESC LIMIT 1) AS "putOffBy"
    FROM alert WHERE alert.id = ANY($1::uuid[])`;

/** What became of these alerts. One query. */
export async function alertsSince(pool: pg.Pool, ids: readonly string[]): Promise<AlertNow[]> {
  return (await pool.query<AlertNow>(nowQuery, [ids])).rows;
}
