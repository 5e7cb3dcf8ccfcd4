import { setImmediate } from 'node:timers/promises';
import type pg from 'pg';
import { dayMs } from '../../science/numeric/time.ts';
import { pastFacts } from '../facts/facts.ts';
import type { SystemFacts } from '../facts/types.ts';
import type { Rule } from '../rule-definition/rule.ts';
import type { FarmSettings, SettingScope } from '../settings/settings.rules.ts';
import { factsAt } from './past-facts.rules.ts';
import { type ComparedAlert, compare, Replay } from './replay.rules.ts';

/** What would have been with a limit as it is and as it is tried. */
export interface ReplayResult {
  systems: number;
  /** How many alerts each way. */
  before: number;
  after: number;
  rows: ComparedAlert[];
}

/** One number of a rule, in one place of a site, over the last so many days. */
interface ReplayAsk extends SettingScope {
  siteId: string;
  rule: Rule;
  name: string;
  value: number | null;
  days: number;
}

/**
 * Evaluates one rule once a day over the past, with the limit as it is and as it is tried, through the same comparison
 * as the service's own alerts. Between two evaluations others get their turn.
 */
export async function replayLimit(
  pool: pg.Pool,
  { siteId, rule, name, value, systemId, kindId, days }: ReplayAsk,
  book: FarmSettings,
  now: Date,
): Promise<ReplayResult> {
  const moments = Array.from({ length: days + 1 }, (_, i) => new Date(now.getTime() - (days - i) * dayMs));
  const span = { from: moments[0] ?? now, now };
  const tried = book.with(rule, name, value, { systemId, kindId });
  const result: ReplayResult = { systems: 0, before: 0, after: 0, rows: [] };
  for await (const facts of pastFacts(pool, systemId === null ? null : [systemId], span)) {
    for (const system of facts) {
      if (system.retired || system.siteId !== siteId || (systemId !== null && system.systemId !== systemId))
        continue;
      const [before, after] = await replaySystem(system, rule, [book, tried], moments);
      result.systems += 1;
      result.before += before.alerts.length;
      result.after += after.alerts.length;
      result.rows.push(...compare(before.alerts, after.alerts));
    }
  }
  return result;
}

async function replaySystem(
  facts: SystemFacts,
  rule: Rule,
  [before, after]: [FarmSettings, FarmSettings],
  moments: readonly Date[],
): Promise<[Replay, Replay]> {
  const runs = [before, after].map((book) => ({
    settings: book.here(rule, facts.systemId),
    replay: new Replay(rule, facts.name),
  }));
  for (const moment of moments) {
    const known = factsAt(facts, moment);
    for (const { settings, replay } of runs) {
      replay.follow(rule.evaluate(known, settings, moment), moment);
      await setImmediate();
    }
  }
  return runs.map(({ replay }) => replay) as [Replay, Replay];
}
