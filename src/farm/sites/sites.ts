import type { Site } from '../../generated/prisma/client.ts';
import { belongsHere } from '../../people/page-context.ts';
import type { Work } from '../../platform/change.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound, staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import type { SiteEdit } from './sites.schema.ts';

/** @throws Refusal 404 */
export async function findSite(db: Reader, id: string): Promise<Site> {
  const site = await db.site.findUnique({ where: { id } });
  if (site === null) throw notFound('This site');
  return site;
}

/** Adds a site. @returns its id */
export async function addSite(
  work: Work,
  { name, timeZone, currency = null }: { name: string; timeZone: string; currency?: string | null },
): Promise<string> {
  const { id } = await work.tx.site.create({ data: { name, timeZone, currency } });
  work.record('site.created', { type: 'site', id }, { name, timeZone, currency });
  return id;
}

/** Changes name, time zone, currency, the hour of the morning digest, or how long values of probes are kept. @throws Refusal 409 on a stale edit */
export async function editSite(work: Work, id: string, { version, ...edit }: SiteEdit): Promise<void> {
  const { name, timeZone, digestAt, currency, ...before } = await findSite(work.tx, id);
  const { volumeUnit, lengthUnit, massUnit, probeValueDays } = before;
  const after = {
    ...edit,
    probeValueDays: edit.probeValueDays === undefined ? probeValueDays : edit.probeValueDays,
    volumeUnit: edit.volumeUnit ?? volumeUnit,
    lengthUnit: edit.lengthUnit ?? lengthUnit,
    massUnit: edit.massUnit ?? massUnit,
  };
  const data = { ...after, version: { increment: 1 } };
  const changed = await work.tx.site.updateMany({ where: { id, version }, data });
  if (changed.count === 0) throw staleEdit('the site');
  work.record(
    'site.changed',
    { type: 'site', id },
    {
      before: { name, timeZone, digestAt, currency, volumeUnit, lengthUnit, massUnit, probeValueDays },
      after,
    },
  );
}

/** Chooses the currency of a site that has none. What it has stays. */
export async function chooseCurrency(work: Work, id: string, currency: string): Promise<void> {
  const changed = await work.tx.site.updateMany({
    where: { id, currency: null },
    data: { currency, version: { increment: 1 } },
  });
  if (changed.count > 0) {
    work.record('site.changed', { type: 'site', id }, { before: { currency: null }, after: { currency } });
  }
}

/** Every site, by name. */
export async function listSites(db: Reader): Promise<Site[]> {
  return db.site.findMany({ orderBy: { name: 'asc' } });
}

const ofPerson = `
  SELECT id, name, time_zone AS "timeZone" FROM site WHERE ${belongsHere} ORDER BY name`;

/** The sites that somebody belongs to, by name. */
export async function sitesOf(
  db: SqlReader,
  accountId: string,
): Promise<{ id: string; name: string; timeZone: string }[]> {
  return (await db.query<{ id: string; name: string; timeZone: string }>(ofPerson, [accountId])).rows;
}

const managedByPerson = `
  SELECT id, name, currency FROM site
   WHERE ${belongsHere}
     AND (SELECT CASE WHEN role = 'owner' THEN true ELSE
            coalesce((SELECT here.role FROM site_person AS here WHERE here.account_id = account.id AND here.site_id = site.id), role) = 'manager' END
            FROM account WHERE account.id = $1::uuid)
   ORDER BY name`;

/** A site with the currency of its prices. */
export interface ManagedSite {
  id: string;
  name: string;
  currency: string | null;
}

/** The sites that somebody manages or owns, by name. */
export async function managedSites(db: SqlReader, accountId: string): Promise<ManagedSite[]> {
  return (await db.query<ManagedSite & Record<string, unknown>>(managedByPerson, [accountId])).rows;
}
