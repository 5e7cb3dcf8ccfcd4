import { Chance } from './chance.ts';
import { type Counts, newFarm, noCounts, passFarmHour, piecesALot, timeOf } from './farm/farm.ts';
import { type Trouble, troublesOf } from './farm/troubles.ts';
import { newBook } from './hands/book.ts';
import { type FarmName, farms, Hands, weeklyChange } from './hands/hands.ts';
import { noteDown, routine, tests } from './hands/routine.ts';
import { clairvoyant } from './policies/clairvoyant.ts';
import { type MakePolicy, noWatch, type Policy } from './policies/policy.ts';
import { simpleWatches } from './policies/watches.ts';
import { type ServiceOptions, serviceWith } from './service/service.ts';

export const policyNames = ['no watch', 'simple watches', 'the service', 'clairvoyant'] as const;
/** The service with tests as often as it proposes itself: lived beside them for some of the years. */
export const proposed = 'tests as proposed';
export type PolicyName = (typeof policyNames)[number] | typeof proposed;

/** So many days are lived before losses are counted, so that there is a past to learn from. */
export const warmUp = 150;
const yearDays = 365;
export const systemsAFarm = 2;

/** What became of one farm in one year under one policy. */
export interface YearResult {
  policy: PolicyName;
  pieces: number;
  counts: Counts;
  blamed: [cause: string, counts: Counts][];
  hours: number;
  /** Minutes by reason and deed. */
  spent: [what: string, minutes: number][];
  alerts: number;
  wrong: number;
  byRule: [rule: string, counts: { alerts: number; wrong: number }][];
  /** What happened, a line each, by day and hour. */
  log: string[];
  troubles: Pick<Trouble, 'kind' | 'from' | 'endedDay' | 'system'>[];
}

interface Asked {
  seed: number;
  policy: PolicyName;
  options?: ServiceOptions;
  /** On which farm, whoever advises it. */
  farm?: FarmName;
}

/** Lives one farm-year. The same seed brings the same farm, troubles, absences and slips under every policy. */
export function liveYear({ seed, policy: name, options = {}, farm: farmName = 'usual' }: Asked): YearResult {
  const chance = new Chance(seed);
  const rough = farms[farmName];
  const troubles = troublesOf(chance, {
    ...{ systems: systemsAFarm, from: warmUp, days: yearDays },
    oftener: rough.troubles,
  });
  const farm = newFarm(chance, systemsAFarm, troubles, warmUp);
  const log: string[] = [];
  farm.said = (words) => {
    const clock = `${String(farm.hour % 24).padStart(2, '0')}:00`;
    if (farm.day >= warmUp) log.push(`day ${String(farm.day - warmUp + 1).padStart(3)} ${clock}  ${words}`);
  };
  const hands = new Hands(farm, newBook(systemsAFarm), rough);
  const policy = policies(options)[name](hands, warmUp);
  while (farm.day < warmUp + yearDays) {
    if (farm.hour === 9) visit(hands, policy, name);
    if (farm.hour === 17 && farm.day % 7 < 5 && hands.here) policy.evening();
    noteDown(hands);
    if (hands.here && farm.hour > 9 && farm.hour <= 18) policy.hourly?.();
    if (farm.day === warmUp && farm.hour === 0) hands.begin();
    passFarmHour(farm);
  }
  return { ...resultOf(hands, policy, name), log };
}

const policies = (options: ServiceOptions): Record<PolicyName, MakePolicy> => ({
  'no watch': noWatch,
  'simple watches': simpleWatches,
  'the service': serviceWith(options),
  [proposed]: serviceWith({ ...options, tests: 'proposed' }),
  clairvoyant,
});

function visit(hands: Hands, policy: Policy, name: PolicyName): void {
  if (!hands.arrive()) return;
  const { farm } = hands;
  for (const system of farm.systems) {
    routine(hands, system, system.changePart ?? weeklyChange);
    if (farm.day < warmUp && (name === 'no watch' || name === 'clairvoyant')) tests(hands, system);
  }
  policy.morning();
}

function resultOf(
  { farm, worked, spent }: Hands,
  { told }: Policy,
  policy: PolicyName,
): Omit<YearResult, 'log'> {
  const counts = noCounts();
  const blamed = new Map<string, Counts>();
  for (const system of farm.systems) {
    add(counts, system.counts);
    for (const [cause, own] of system.blamed) {
      const sum = blamed.get(cause) ?? noCounts();
      add(sum, own);
      blamed.set(cause, sum);
    }
  }
  return {
    ...{ policy, counts, blamed: [...blamed], hours: worked / 60, spent: [...spent] },
    pieces: farm.systems.reduce((sum, { lots }) => sum + lots.length * piecesALot, 0),
    ...{ alerts: told.alerts, wrong: told.wrong, byRule: [...told.byRule] },
    troubles: farm.troubles.map(({ kind, from, endedDay, system }) => ({
      kind,
      from,
      system,
      endedDay: endedDay ?? timeOf(farm),
    })),
  };
}

function add(to: Counts, more: Counts): void {
  to.lost += more.lost;
  to.paled += more.paled;
  to.unsaleable += more.unsaleable;
}
