import { uuidv7 } from 'uuidv7';
import type { LimitTrial } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Reader, Service } from '../../platform/service.ts';
import { canonicalUnits, inKeptWords } from '../../platform/units/units.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { ruleNamed } from '../rules/registry.ts';
import { findScope, loadSettings, type SettingChange } from '../settings/settings.ts';
import { type ReplayResult, replayLimit } from './replay.ts';

/** The queue of limits to try on the past. */
export const trialQueue = 'limit-trial';

/** Alerts shown of one trial; the counts are of all. */
const mostRows = 400;

/** A limit tried on the past, with what came of it once it is worked out. */
export type Trial = Omit<LimitTrial, 'result'> & { result: ReplayResult | null };

/**
 * Asks for a limit to be tried on the last `days` of a site; a job works it out.
 * @throws Refusal for a system or kind that is not there, or a rule that is not set by kind
 */
export async function requestTrial(
  work: Work,
  siteId: string,
  { rule, name, value, systemId, kindId, reason, days }: SettingChange & { days: number },
): Promise<string> {
  const scope = await findScope(work, { rule, systemId, kindId });
  const id = uuidv7();
  const asked = { siteId, rule: rule.name, name, value, systemId, kindId, reason, days };
  await work.tx.limitTrial.create({ data: { id, ...asked, accountId: work.accountId, createdAt: work.now } });
  work.record('limit.tried', scope.subject, { rule: rule.name, name, to: value, days, for: scope.name });
  return id;
}

/** One trial. @throws Refusal 404 */
export async function findTrial(db: Reader, id: string): Promise<Trial> {
  const trial = await db.limitTrial.findUnique({ where: { id } });
  if (trial === null) throw notFound('This trial');
  return { ...trial, result: trial.result as unknown as ReplayResult | null };
}

/** What was tried is looked at within the hour; its page stays for so long. */
const keptDays = 30;

/** Clears trials of more than thirty days ago; what was kept of them stands in the settings and the journal. */
export async function clearTrials(db: Service['db'], now: Date): Promise<void> {
  const old = daysBefore(now, keptDays);
  await db.limitTrial.deleteMany({ where: { createdAt: { lt: old } } });
}

/** Works out a trial that was asked for; one that is finished already is left alone. */
export async function runTrial(
  service: Pick<Service, 'db' | 'pool' | 'log' | 'now'>,
  id: string,
): Promise<void> {
  const trial = await service.db.limitTrial.findUnique({ where: { id } });
  if (trial === null || trial.finishedAt !== null) return;
  const finish = (data: object) =>
    service.db.limitTrial.update({ where: { id }, data: { finishedAt: service.now(), ...data } });
  const rule = ruleNamed(trial.rule);
  if (rule === undefined) {
    await finish({ failure: 'This rule is no longer there.' });
    return;
  }
  try {
    const book = await loadSettings(service.pool);
    const result = await inKeptWords(canonicalUnits, () =>
      replayLimit(service.pool, { ...trial, rule }, book, trial.createdAt),
    );
    await finish({ result: { ...result, rows: changedFirst(result.rows).slice(0, mostRows) } });
  } catch (error) {
    service.log.error({ err: error, trial: id }, 'a limit could not be tried');
    await finish({ failure: 'It could not be worked out. The service’s log says why; try it again.' });
  }
}

/** What differs comes first, so that it is never what is cut off. */
function changedFirst(rows: ReplayResult['rows']): ReplayResult['rows'] {
  const same = ({ before, after }: ReplayResult['rows'][number]) => before !== null && after !== null;
  return [...rows.filter((row) => !same(row)), ...rows.filter(same)];
}
