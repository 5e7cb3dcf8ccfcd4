import { change } from '../../platform/change.ts';
import type { Service } from '../../platform/service.ts';
import { hourMs } from '../../science/numeric/time.ts';
import { keepLeftOut, leftOutKey, leftOutQuery, type UnansweredCheck } from '../round/checks-left-out.ts';
import { plannedRounds } from './schedule.ts';

/** Hours after its time from which a round’s check that nobody answered is told of; own choice. */
const LATE_HOURS = 4;

/** Of rounds that are hours late, begun or not, the checks that nobody answered are told of without anybody's tap. */
export async function lookAtMissedChecks(service: Service, now: Date): Promise<void> {
  const sites = await service.pool.query<{ id: string }>('SELECT id FROM site');
  for (const { id } of sites.rows) await lookAtSite(service, id, now);
}

async function lookAtSite(service: Service, siteId: string, now: Date): Promise<void> {
  const late = ({ dueAt }: { dueAt: Date }) => now.getTime() - dueAt.getTime() > LATE_HOURS * hourMs;
  const overdue = (await plannedRounds(service.pool, siteId, now, 1)).filter(
    (round) => round.steps.includes('check') && round.state !== 'finished' && late(round),
  );
  if (overdue.length === 0) return;
  const { rows } = await service.pool.query<UnansweredCheck>(leftOutQuery, [
    overdue.map(({ planId }) => planId),
    overdue.map(({ day }) => day),
  ]);
  const told = await toldOf(service, overdue.map(leftOutKey));
  const left = rows.filter((one) => !told.has(`${one.systemId} ${leftOutKey(one)}`));
  if (left.length > 0)
    await change(service, { accountId: null }, (work) => keepLeftOut(work, left, 'which is late'));
}

/** Which of these were told of before, by system. */
async function toldOf({ pool }: Service, keys: readonly string[]): Promise<Set<string>> {
  const { rows } = await pool.query<{ told: string }>(
    `SELECT system_id || ' ' || left_out AS told FROM fault WHERE left_out = ANY($1)`,
    [keys],
  );
  return new Set(rows.map(({ told }) => told));
}
