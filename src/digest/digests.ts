import type pg from 'pg';
import { watchGapsNow } from '../alerts/gaps/gaps.ts';
import { backupWordsNow } from '../backups/backups.ts';
import { listEmergencies } from '../emergencies/running/list.ts';
import type { Digest, Prisma, Site } from '../generated/prisma/client.ts';
import { change, type Work } from '../platform/change.ts';
import { localDay, momentOf } from '../platform/days.ts';
import { notFound, Refusal } from '../platform/refusal.ts';
import type { Service } from '../platform/service.ts';
import { type ChosenUnits, inKeptWords, unitsOf } from '../platform/units/units.ts';
import { timeWords } from '../platform/words/times.ts';
import { plannedRounds, todaysRounds } from '../rounds/schedule/schedule.ts';
import { tasksDue } from '../rounds/tasks/tasks.ts';
import { dayMs, daysBefore } from '../science/numeric/time.ts';
import { readySum } from '../stock/sales/ready.ts';
import { stocktakeNews } from '../stock/stocktakes/due.ts';
import { headingOf } from '../watch/rules/registry.ts';
import { unknownsOf } from '../watch/unknowns/unknowns.ts';
import { listQuantities } from '../water/quantities/quantities.ts';
import { untestedBriefly } from '../water/systems/state.rules.ts';
import {
  changes,
  dueLines,
  emergencyWords,
  headline,
  lateWords,
  lead,
  notDoneLines,
  putOffLines,
  stockFigures,
  stockLines,
} from './content.rules.ts';
import type { DigestContent, DigestWork } from './content.ts';
import { alertEventsBetween, alertsNow, putOffNow, stockSince, systemsNow } from './facts.ts';
import { systemWords, trendOf } from './systems.rules.ts';

/** One morning's digest as it was made. */
export interface SavedDigest {
  id: string;
  day: string;
  /** When what it says now was made. */
  madeAt: Date;
  content: DigestContent;
  /** Which making of this morning it is; above 1 somebody had it made again, and `earlier` has what it said before. */
  version: number;
  earlier: { madeAt: string; content: DigestContent }[];
}

const dateOf = (day: string) => new Date(`${day}T00:00:00Z`);

async function workOf(service: Service, site: Site, now: Date): Promise<DigestWork[]> {
  const systems = await service.db.system.findMany({
    where: { siteId: site.id, retiredAt: null },
    orderBy: [{ position: 'asc' }, { name: 'asc' }],
    select: { id: true },
  });
  const ids = systems.map(({ id }) => id);
  const [rounds, due, count] = await Promise.all([
    todaysRounds(service.pool, site.id, now),
    tasksDue(service.pool, ids, now),
    stocktakeNews(service.pool, site, now),
  ]);
  const walks = rounds.map(({ dueAt, name, assignee }) => ({
    at: timeWords(dueAt, site.timeZone),
    where: '',
    what: name,
    who: assignee?.split(' ')[0] ?? 'whoever is there',
    href: '/rounds',
  }));
  const counting =
    count === null
      ? []
      : [{ at: '', where: 'Stock', what: count.text, short: count.text, who: '', href: count.href }];
  return [...walks, ...dueLines(due, ids), ...counting];
}

async function notDoneOf(service: Service, site: Site, day: string, now: Date): Promise<string[]> {
  const yesterday = localDay(
    new Date(momentOf(day, '12:00', site.timeZone).getTime() - dayMs),
    site.timeZone,
  );
  const planned = await plannedRounds(service.pool, site.id, now, 1);
  return notDoneLines(planned.filter((round) => round.day === yesterday));
}

/** What the digest of this site would say at `now`, looking back to `since`: one for all its readers, in the site's units. */
const compose = (
  service: Service,
  site: Site,
  since: Date,
  now: Date,
  late: string,
): Promise<DigestContent> =>
  inKeptWords(unitsOf({}, siteUnits(site)), () => composed(service, site, since, now, late));

/** The units that the site chose; its schema says which there are. */
const siteUnits = ({ volumeUnit, lengthUnit, massUnit }: Site) =>
  ({ volume: volumeUnit, length: lengthUnit, mass: massUnit }) as ChosenUnits;

async function composed(
  service: Service,
  site: Site,
  since: Date,
  now: Date,
  late: string,
): Promise<DigestContent> {
  const { pool, db } = service;
  const day = localDay(now, site.timeZone);
  const clock = { timeZone: site.timeZone, now };
  const [wrong, alerts, off, events, systems, stock, quantities, ready, { setUp, unseen }, gaps, backup] =
    await Promise.all([
      listEmergencies(pool, site.id, since, now),
      alertsNow(service, site.id, now),
      putOffNow(pool, site.id, now),
      alertEventsBetween(pool, site.id, since, now),
      systemsNow(service, site.id, now),
      stockSince(pool, site.id, since, now),
      listQuantities(db),
      readySum(pool, site.id, now),
      unknownsOf(pool, site.id),
      watchGapsNow(pool, site, headingOf, now),
      backupWordsNow(service, clock),
    ]);
  const isUnwatched = gaps.length > 0;
  return {
    site: site.name,
    day,
    late,
    figures: stockFigures(site.id, stock),
    headline:
      alerts.length + wrong.length === 0 && setUp.length > 0
        ? 'The farm is still to be set up'
        : headline(alerts, { isWrong: wrong.some(({ endedAt }) => endedAt === null), isUnwatched }),
    lead: lead(systems, stock, { ...clock, isUnwatched }),
    emergencies: wrong.map((one) => emergencyWords(one, site.timeZone, now)),
    alerts,
    putOff: putOffLines(off, clock),
    changes: changes(events, alerts),
    systems: systems.map((system) => ({
      id: system.id,
      name: system.name,
      ...systemWords(system, quantities, clock),
      trend: trendOf(system),
      unconfirmed: system.latest.some((one) => one.quantityCode === 'alkalinity' && one.unconfirmed),
      band: system.band,
      unknown: untestedBriefly(system.state, clock),
    })),
    work: await workOf(service, site, now),
    stock: stockLines(stock),
    ready: { lots: ready.lots, pieces: ready.pieces },
    notDone: await notDoneOf(service, site, day, now),
    unknowns: [...setUp, ...unseen],
    gaps,
    backup,
  };
}

/** What digests made by an earlier version of the service do not have. */
const sinceAdded = {
  ...{ ready: { lots: 0, pieces: 0 }, emergencies: [], unknowns: [], putOff: [] },
  ...{ gaps: [], backup: null },
};

const whole = (content: unknown): DigestContent => ({ ...sinceAdded, ...(content as DigestContent) });

const kept = (row: Digest): SavedDigest => ({
  id: row.id,
  day: row.day.toISOString().slice(0, 10),
  madeAt: row.madeAgainAt ?? row.madeAt,
  content: whole(row.content),
  version: row.version,
  earlier: (row.earlier as unknown as SavedDigest['earlier']).map(({ madeAt, content }) => ({
    madeAt,
    content: whole(content),
  })),
});

/** Keeps the digest; whoever comes second for the same morning gets the first one's. */
async function keep(work: Work, site: Site, content: DigestContent): Promise<boolean> {
  const data = {
    siteId: site.id,
    day: dateOf(content.day),
    madeAt: work.now,
    content: content as unknown as Prisma.InputJsonObject,
  };
  const { count } = await work.tx.digest.createMany({ data, skipDuplicates: true });
  const what = count === 1 ? 'digest.made' : 'digest.found';
  work.record(what, { type: 'site', id: site.id }, { day: content.day, alerts: content.alerts.length });
  return count === 1;
}

/**
 * The digest of this morning: made now when there is none yet, once however many instances ask.
 * `due`: when it should have been made, so that a late one says so.
 */
export async function makeDigest(
  service: Service,
  siteId: string,
  now: Date,
  due: Date = now,
): Promise<SavedDigest> {
  const site = await service.db.site.findUnique({ where: { id: siteId } });
  if (site === null) throw notFound('This site');
  const day = dateOf(localDay(now, site.timeZone));
  const where = { siteId_day: { siteId, day } };
  const there = await service.db.digest.findUnique({ where });
  if (there !== null) return kept(there);
  const since = await lastMade(service, siteId, day, now);
  const content = await compose(service, site, since, now, lateWords(due, now, site.digestAt));
  await change({ ...service, now: () => now }, { accountId: null }, (work) => keep(work, site, content));
  return kept(await service.db.digest.findUniqueOrThrow({ where }));
}

/** When the digest before this day was made, which is where the next one looks back to; a day ago where there is none. */
async function lastMade(service: Service, siteId: string, day: Date, now: Date): Promise<Date> {
  const before = await service.db.digest.findFirst({
    where: { siteId, day: { lt: day } },
    orderBy: { day: 'desc' },
  });
  return before?.madeAgainAt ?? before?.madeAt ?? daysBefore(now, 1);
}

/**
 * Makes this morning's digest again, as things are now. What it said before is kept beside it, and letters that were sent
 * stay as they are; `mail` sends it anew to everybody on the list.
 * @throws Refusal 404 when none was made, 409 for an earlier day's
 */
export async function makeDigestAgain(
  service: Service,
  work: Work,
  { site, day, mail }: { site: { id: string }; day: string; mail: boolean },
): Promise<void> {
  const full = await work.tx.site.findUniqueOrThrow({ where: { id: site.id } });
  if (day !== localDay(work.now, full.timeZone))
    throw new Refusal('Only this morning’s digest can be made again. Earlier ones stay as they were.', {
      status: 409,
    });
  const where = { siteId_day: { siteId: site.id, day: dateOf(day) } };
  const [row] = await work.tx.$queryRaw<{ id: string }[]>`
    SELECT id FROM digest WHERE site_id = ${site.id}::uuid AND day = ${day}::date FOR UPDATE`;
  if (row === undefined) throw notFound('A digest of this day');
  const before = kept(await work.tx.digest.findUniqueOrThrow({ where }));
  const since = await lastMade(service, site.id, dateOf(day), work.now);
  const content = await compose(service, full, since, work.now, '');
  const earlier = [...before.earlier, { madeAt: before.madeAt.toISOString(), content: before.content }];
  const version = before.version + 1;
  await work.tx.digest.update({
    where,
    data: {
      content: content as unknown as Prisma.InputJsonObject,
      earlier: earlier as unknown as Prisma.InputJsonArray,
      madeAgainAt: work.now,
      madeAgainById: work.accountId,
      version,
      ...(mail ? { mailVersion: version } : {}),
    },
  });
  work.record(
    'digest.made_again',
    { type: 'site', id: site.id },
    { day, mail, alerts: content.alerts.length },
  );
}

/** Makes what is due and not made: for every site whose hour has passed today. */
export async function makeDueDigests(service: Service, now: Date): Promise<number> {
  const sites = await service.db.site.findMany();
  let made = 0;
  for (const site of sites) {
    const due = momentOf(localDay(now, site.timeZone), site.digestAt, site.timeZone);
    // A farm that was set up later in the day has its first one the next morning, or when somebody asks for it.
    const isNew = site.createdAt > due && site.createdAt <= now;
    if (now < due || isNew) continue;
    const before = await service.db.digest.count({
      where: { siteId: site.id, day: dateOf(localDay(now, site.timeZone)) },
    });
    if (before > 0) continue;
    await makeDigest(service, site.id, now, due);
    made += 1;
  }
  return made;
}

/** The digest of a local day. @throws Refusal 404 */
export async function findDigest(service: Service, siteId: string, day: string): Promise<SavedDigest> {
  const row = await service.db.digest.findUnique({ where: { siteId_day: { siteId, day: dateOf(day) } } });
  if (row === null) throw notFound('A digest of this day');
  return kept(row);
}

/** The newest digests, newest first. */
export async function listDigests(service: Service, siteId: string, take = 30): Promise<SavedDigest[]> {
  const rows = await service.db.digest.findMany({ where: { siteId }, orderBy: { day: 'desc' }, take });
  return rows.map(kept);
}

/** The local day of the site's newest digest, "2026-11-24"; null while there is none. One query. */
export async function newestDigestDay(pool: pg.Pool, siteId: string): Promise<string | null> {
  const { rows } = await pool.query<{ day: string }>(
    'SELECT day::text AS day FROM digest WHERE site_id = $1 ORDER BY day DESC LIMIT 1',
    [siteId],
  );
  return rows[0]?.day ?? null;
}
