import type { Work } from '../../platform/change.ts';
import type { Reader } from '../../platform/service.ts';
import { dayMs, daysBefore } from '../../science/numeric/time.ts';

/** For how many days, and how many of each name, values wait until somebody says what the name is: the newest; own choice. */
export const waitingDays = 7;
export const mostWaiting = 2000;

/** One value that waits, as it came. */
export interface WaitingValue {
  name: string;
  /** Unix time in whole ms. */
  ms: number;
  value: number;
  unit: string | null;
  note: string;
}

/** The same with the instrument or the person that sent it; neither where it came by a broker. */
type SentValue = WaitingValue & Pick<Work, 'accessKeyId' | 'accountId'>;

/**
 * Keeps values of names that are not placed yet, or came in a unit that is none of their instrument's, until the name is placed:
 * the newest {@link mostWaiting} of each name of the last {@link waitingDays} days. The rows of the names are locked.
 */
export async function keepWaiting(work: Work, values: readonly WaitingValue[]): Promise<void> {
  const [from, until] = [work.now.getTime() - waitingDays * dayMs, work.now.getTime()];
  const rows = values.filter(({ ms }) => ms > from && ms <= until);
  if (rows.length === 0) return;
  await work.tx.$executeRaw`
    INSERT INTO probe_waiting (name, at, value, unit, note, access_key_id, account_id)
    SELECT name, timestamptz 'epoch' + ms * interval '1 millisecond', value, unit, note, ${work.accessKeyId}::uuid, ${work.accountId}::uuid
      FROM json_to_recordset(${JSON.stringify(rows)}::json) AS said(name text, ms bigint, value float8, unit text, note text)
        ON CONFLICT (name, at) DO NOTHING`;
  const names = [...new Set(rows.map(({ name }) => name))];
  await work.tx.$executeRaw`
    DELETE FROM probe_waiting USING unnest(${names}::text[]) AS said(name)
     WHERE probe_waiting.name = said.name
       AND probe_waiting.at <= greatest(${daysBefore(work.now, waitingDays)}::timestamptz,
             coalesce((SELECT at FROM probe_waiting AS newer WHERE newer.name = said.name ORDER BY at DESC OFFSET ${mostWaiting} LIMIT 1), '-infinity'))`;
}

/** Takes what waits for a name out of the waiting, oldest first. The row of the name is locked. */
export async function takeWaiting(work: Work, name: string): Promise<SentValue[]> {
  const rows = await work.tx.$queryRaw<SentValue[]>`
    DELETE FROM probe_waiting WHERE name = ${name}
    RETURNING name, date_part('epoch', at) * 1000 AS ms, value, unit, note, access_key_id AS "accessKeyId", account_id AS "accountId"`;
  const from = work.now.getTime() - waitingDays * dayMs;
  return rows.filter(({ ms }) => ms > from).sort((a, b) => a.ms - b.ms);
}

/** How many values wait under each of these names, and since when. One query. */
export async function countWaiting(
  db: Reader,
  names: readonly string[],
  now: Date,
): Promise<Map<string, { values: number; since: Date }>> {
  const rows = await db.probeWaiting.groupBy({
    by: ['name'],
    where: { name: { in: [...names] }, at: { gt: daysBefore(now, waitingDays) } },
    _count: true,
    _min: { at: true },
  });
  return new Map(rows.map(({ name, _count, _min }) => [name, { values: _count, since: _min.at ?? now }]));
}
