import { rules } from '../../../src/watch/rules/registry.ts';
import { FarmSettings } from '../../../src/watch/settings/settings.rules.ts';
import { onDay } from '../../watch/facts.ts';
import { farmOn, farmWorld } from './farm-world.ts';

/** Whole systems in control for two years, watched by every rule the service has, with its defaults. */
export interface CalmJob {
  kind: 'calm';
  heading: string;
  systems: number;
  rateAim: number;
  seed: number;
}

export interface CalmResult {
  kind: 'calm';
  job: CalmJob;
  years: number;
  /** False alerts a system-year by rule, the most first. */
  rates: { rule: string; rate: number }[];
}

const from = 180;
const lookBack = 31;
const controlDays = 730;
const yearDays = 365;
/** The whole watch is asked every third day. */
const every = 3;
const quietDays = 30;

/** Runs one job; the same job gives the same result on every machine. */
export function runCalmFarm(job: CalmJob): CalmResult {
  const alerts = new Map<string, number>();
  for (let i = 0; i < job.systems; i++) {
    for (const rule of falseAlerts(job.seed + i)) alerts.set(rule, (alerts.get(rule) ?? 0) + 1);
  }
  const years = (job.systems * controlDays) / yearDays;
  const rates = [...alerts].map(([rule, count]) => ({ rule, rate: count / years }));
  return { kind: 'calm', job, years, rates: rates.sort((a, b) => b.rate - a.rate) };
}

/** The rule of each alert: a finding that fires after 30 days in which it did not, and that no other explains. */
function falseAlerts(seed: number): string[] {
  const world = farmWorld(from + controlDays, seed);
  const book = new FarmSettings([]);
  const last = new Map<string, number>();
  const opened: string[] = [];
  for (let day = from - lookBack; day < from + controlDays; day += every) {
    const facts = farmOn(world, day + 0.9);
    const now = onDay(day + 0.9);
    for (const rule of rules) {
      const fires = rule
        .evaluate(facts, book.here(rule, facts.systemId), now)
        .filter(({ status, causes }) => status === 'fires' && causes.length === 0);
      for (const { facet, subject } of fires) {
        const key = `${rule.name} ${facet} ${subject.id}`;
        if (day >= from && day - (last.get(key) ?? Number.NEGATIVE_INFINITY) > quietDays)
          opened.push(rule.name);
        last.set(key, day);
      }
    }
  }
  return opened;
}
