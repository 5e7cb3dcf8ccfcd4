import type pg from 'pg';
import type { Role } from '../../generated/prisma/enums.ts';
import type { CurrentSite } from '../current-site.ts';
import type { ChosenUnits } from '../units/units.ts';

/** Something that is off for now. */
export interface OffNow {
  id: string;
  /** "Pumps", "Heater left". */
  what: string;
  /** "off", "open", "out of force". */
  state: string;
  /** "North hall, Tank 2". */
  place: string;
  /** When it is due back, ISO 8601. */
  dueAt: string;
}

/** Something that is wrong now and has not ended. */
export interface EmergencyNow {
  id: string;
  title: string;
  startedAt: string;
  systems: string[];
  systemIds: string[];
  /** When the next look is due, ISO 8601; null where none is. */
  dueAt: string | null;
}

/** Who asks, where, and how much is open: what every page shows around itself. */
export interface PageContext {
  person: { id: string; name: string; role: Role; sessionGeneration: number; units: ChosenUnits } | null;
  site: CurrentSite | null;
  /** Open alerts by urgency. */
  counts: { now: number; today: number };
  /** What is off for now, of which nobody has said that it runs again; due first. */
  switchedOff: OffNow[];
  /** What is wrong now, the oldest first. */
  emergencies: EmergencyNow[];
  /** False until the first owner exists: then only the first-run page is shown. */
  settled: boolean;
}

/**
 * Where each part of the context comes from: an SQL expression that the area which owns the tables gives. `$1` is the
 * account that asks (null where nobody is signed in), `$2` the time now, `$3` the site that it wants to see (null for
 * the first).
 */
export type PageContextColumns = Readonly<Record<keyof PageContext, string>>;

/** Reads what surrounds a page. One query. */
export async function loadPageContext(
  pool: pg.Pool,
  columns: PageContextColumns,
  { accountId, siteId }: { accountId: string | null; siteId: string | null },
  now: Date,
): Promise<PageContext> {
  const parts = Object.entries(columns).map(([name, expression]) => `(${expression}) AS "${name}"`);
  const text = `SELECT ${parts.join(', ')}`;
  const { rows } = await pool.query<PageContext>(text, [accountId, now, siteId]);
  const row = rows[0];
  if (row === undefined) throw new Error('the database gave no answer');
  return row;
}
