import { type Finding, keyText } from '../../../src/alerts/finding.ts';
import { rules } from '../../../src/watch/rules/registry.ts';
import { FarmSettings } from '../../../src/watch/settings/settings.rules.ts';
import { onDay } from '../../watch/facts.ts';
import { farmOn, farmWorld } from './farm-world.ts';
import { namesBoth } from './naming.ts';

/** A trouble that begins on a day in whole systems, and the rules that may tell it. */
export interface FarmTrouble {
  name: string;
  factor?: number;
  fall?: number;
  nitrate?: number;
  right: readonly string[];
  /** Rules that are right only where they name this trouble beside the one they are named after. */
  rightBeside?: readonly string[];
}

/** Alkalinity and nitrate go on as the worlds of those rules; use and salt are as in control. */
export const farmTroubles: readonly FarmTrouble[] = [
  {
    name: 'alkalinity falls by 0.1 dKH a day',
    fall: 0.1,
    right: [
      'alkalinity-falling',
      'out-of-band',
      'alkalinity-unsteady',
      'demand-changed',
      'saturation',
      'sinking-fast',
    ],
  },
  {
    name: 'swing of alkalinity tripled',
    factor: 3,
    right: ['alkalinity-unsteady'],
    rightBeside: ['alkalinity-falling'],
  },
  {
    name: 'nitrate made up by a mg/L a week',
    nitrate: 1 / 7,
    right: ['nitrate-creep', 'nitrate-level', 'out-of-band'],
  },
];

/**
 * Whole systems, watched by every rule the service has, with its defaults: in control for two years, when each alert is false; or
 * for 45 days from the beginning of a trouble, when each alert of another rule than may tell it names a wrong cause.
 */
export interface CalmJob {
  kind: 'calm';
  heading: string;
  systems: number;
  rateAim: number;
  trouble?: FarmTrouble;
  seed: number;
}

export interface CalmResult {
  kind: 'calm';
  job: CalmJob;
  years: number;
  /**
   * Alerts a system-year by rule, the most first: false ones, or beside a trouble those of rules that may not tell it;
   * `without`: those of the same water without the trouble, which are false but no wrong cause of it. And days a year open.
   */
  rates: { rule: string; rate: number; without: number; daysOpen: number }[];
  /** Alerts on a fall that name it alone, and that name a swing beside it; one that comes to name it alone counts again. */
  falls: { alone: number; both: number };
}

const from = 180;
const lookBack = 31;
const controlDays = 730;
const troubleDays = 45;
const yearDays = 365;
/** The whole watch is asked every third day. */
const every = 3;
const quietDays = 30;

/** Runs one job; the same job gives the same result on every machine. */
export function runCalmFarm(job: CalmJob): CalmResult {
  const days = job.trouble === undefined ? controlDays : troubleDays;
  const years = (job.systems * days) / yearDays;
  const told = new Map<string, { rate: number; without: number; daysOpen: number }>();
  const falls = { alone: 0, both: 0 };
  for (let i = 0; i < job.systems; i++) {
    const soFar = (rule: string) => told.get(rule) ?? { rate: 0, without: 0, daysOpen: 0 };
    const watched = alertsIn(job.seed + i, days, job.trouble);
    falls.alone += watched.falls.alone;
    falls.both += watched.falls.both;
    for (const { rule, opened, daysOpen } of watched.told) {
      const { rate, daysOpen: open, ...rest } = soFar(rule);
      told.set(rule, { ...rest, rate: rate + opened / years, daysOpen: open + daysOpen / years });
    }
    if (job.trouble === undefined) continue;
    const { right } = job.trouble;
    for (const { rule, opened } of alertsIn(job.seed + i, days, { name: 'none', right }).told) {
      const { without, ...rest } = soFar(rule);
      told.set(rule, { ...rest, without: without + opened / years });
    }
  }
  const rates = [...told].map(([rule, counts]) => ({ rule, ...counts }));
  return { kind: 'calm', job, years, rates: rates.sort((a, b) => b.rate - a.rate), falls };
}

/**
 * By rule: alerts opened, each a finding that fires after 30 days in which it did not and that no other explains; and the days on
 * which one stood open. Of a trouble only rules that may not tell it.
 */
function alertsIn(seed: number, days: number, trouble?: FarmTrouble) {
  const world = farmWorld(from + days, seed, trouble === undefined ? undefined : { ...trouble, onset: from });
  const book = new FarmSettings([]);
  const asked = rules.filter(({ name }) => !trouble?.right.includes(name));
  const last = new Map<string, number>();
  const open = new Set<string>();
  const falls = { alone: 0, both: 0 };
  const lastFall = { alone: Number.NEGATIVE_INFINITY, both: Number.NEGATIVE_INFINITY };
  let alerts: ReadonlySet<string> = new Set();
  const told = new Map(asked.map(({ name }) => [name, { rule: name, opened: 0, daysOpen: 0 }]));
  for (let day = from - lookBack; day < from + days; day += every) {
    const facts = farmOn(world, day + 0.9);
    const now = onDay(day + 0.9);
    const all = rules.flatMap((rule) => rule.evaluate(facts, book.here(rule, facts.systemId), now));
    // What another alert that stands open explains is told as part of it.
    alerts = new Set(
      all.filter((one) => one.status === 'fires' || alerts.has(keyText(one))).map((one) => keyText(one)),
    );
    const roots = all.filter(({ causes }) => !causes.some((cause) => alerts.has(keyText(cause))));
    for (const fall of roots.filter(
      ({ rule, status }) => rule === 'alkalinity-falling' && status === 'fires',
    )) {
      const named = namesBoth(fall) ? 'both' : 'alone';
      if (day >= from && day - lastFall[named] > quietDays) falls[named] += 1;
      lastFall[named] = day;
    }
    for (const rule of asked) {
      const counts = told.get(rule.name);
      const isRight = (finding: Finding) => trouble?.rightBeside?.includes(rule.name) && namesBoth(finding);
      const found = roots.filter((finding) => finding.rule === rule.name && !isRight(finding));
      const keyOf = ({ facet, subject }: (typeof found)[number]) => `${rule.name} ${facet} ${subject.id}`;
      const standing = new Set(found.map(keyOf));
      for (const key of [...open].filter((one) => one.startsWith(`${rule.name} `) && !standing.has(one)))
        open.delete(key);
      for (const finding of found.filter(({ status }) => status === 'fires')) {
        const key = keyOf(finding);
        open.add(key);
        const isNew = day >= from && day - (last.get(key) ?? Number.NEGATIVE_INFINITY) > quietDays;
        if (isNew && counts) counts.opened += 1;
        last.set(key, day);
      }
      if (day >= from && counts && [...open].some((key) => key.startsWith(`${rule.name} `)))
        counts.daysOpen += every;
    }
  }
  return { told: [...told.values()].filter(({ opened, daysOpen }) => opened + daysOpen > 0), falls };
}
