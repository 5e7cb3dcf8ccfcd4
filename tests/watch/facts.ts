import { quantities } from '../../seed/library.ts';
import type { Finding } from '../../src/alerts/finding.ts';
import type {
  ChangeFact,
  DoseFact,
  KitFact,
  LotFact,
  ReadingFact,
  SystemFacts,
} from '../../src/watch/facts/types.ts';
import { momentOfDay, unknownCare } from '../../src/watch/facts/types.ts';
import type { Rule } from '../../src/watch/rule-definition/rule.ts';
import { FarmSettings } from '../../src/watch/settings/settings.rules.ts';

/** Day 0 of worlds made by hand: 1 January 2026, as days since 1970. */
export const dayZero = Date.UTC(2026, 0, 1) / 86_400_000;

/** The moment on a day of such a world. */
export const onDay = (day: number): Date => momentOfDay(dayZero + day);

const known = new Map(quantities().map((quantity) => [quantity.code, quantity]));

/** A system of which nothing is known but its name. */
export function blankSystem(more: Partial<SystemFacts> = {}): SystemFacts {
  return {
    systemId: '00000000-0000-7000-8000-00000000000a',
    siteId: '00000000-0000-7000-8000-00000000000b',
    name: 'Long run',
    timeZone: 'UTC',
    volumeL: 1000,
    retired: false,
    quantities: known,
    kept: new Map(),
    readings: new Map(),
    changes: [],
    doses: [],
    feedings: [],
    switchedOff: [],
    faults: [],
    looks: [],
    events: [],
    left: [],
    looked: [],
    routines: [],
    corrections: [],
    probes: [],
    probeVotes: [],
    siteMoves: [],
    photographs: [],
    doubted: [],
    temperatures: [],
    tanks: [],
    kits: [],
    visitingKits: [],
    kitsPutAway: [],
    lots: [],
    lamps: [],
    racks: [],
    pests: [],
    goneLots: [],
    losses: { stays: [], deaths: [] },
    shared: [],
    silentDevices: [],
    ...more,
  };
}

let made = 0;
/** A key that no other has. */
export const madeId = (): string => {
  made += 1;
  return `00000000-0000-7000-9000-${made.toString(16).padStart(12, '0')}`;
};

/** A plain reading on a day of the world. */
export function reading(day: number, value: number, u: number, more: Partial<ReadingFact> = {}): ReadingFact {
  return {
    id: madeId(),
    systemId: '00000000-0000-7000-8000-00000000000a',
    day: dayZero + day,
    at: onDay(day).toISOString(),
    value,
    below: false,
    u,
    step: null,
    trust: 'plain',
    kitId: null,
    hand: '',
    ...more,
  };
}

/** A drop kit for alkalinity, opened on day 0, of which nothing is known yet. */
export function blankKit(known: Partial<KitFact> = {}): KitFact {
  return {
    id: madeId(),
    label: 'Alkalinity 7',
    quantityCode: 'alkalinity',
    methodName: 'drop titration',
    u: 0.07,
    openedDay: dayZero,
    openedAt: onDay(0).toISOString(),
    expiresDay: null,
    uses: null,
    used: 0,
    laboratory: false,
    probe: false,
    checks: [],
    systems: [],
    ...known,
  };
}

/** A lot in a calm place since day 0, of whose light and care nothing is known. */
export function blankLot(known: Partial<LotFact> = {}): LotFact {
  return {
    id: madeId(),
    code: '247-6TY',
    ownName: '',
    pieces: 3,
    kindName: 'Platygyra daedalea',
    kindIds: [],
    place: 'N3, B4',
    placementId: madeId(),
    placedAt: onDay(0).toISOString(),
    placedDay: dayZero,
    rackId: 'rack',
    cells: [{ row: 2, column: 4 }],
    sizeMm: 30,
    parentId: null,
    lampId: null,
    flow: 'low',
    jet: false,
    base: 'egg_crate',
    depthMm: 200,
    light: [],
    care: unknownCare,
    conditions: [],
    cutDay: null,
    acclimation: null,
    ...known,
  };
}

/** A logged water change on a day of the world. */
export function waterChange(day: number, fraction: number): ChangeFact {
  return {
    id: madeId(),
    day: dayZero + day,
    at: onDay(day).toISOString(),
    volumeL: 1000 * fraction,
    fraction,
  };
}

/** A logged dose on a day of the world that raised a quantity. */
export function dose(day: number, quantityCode: string, rise: number): DoseFact {
  const at = onDay(day).toISOString();
  return { id: madeId(), day: dayZero + day, at, substance: 'made-up solution', quantityCode, rise };
}

/** What a rule finds on a day, with its default numbers but for those that the farm set. */
export function find(
  rule: unknown,
  facts: SystemFacts,
  day: number,
  settings: Readonly<Record<string, number>> = {},
): Finding[] {
  const known = rule as Rule;
  const scope = { systemId: null, kindId: null, scopeName: null };
  const row = { rule: known.name, settings, ...scope, reason: 'tried', at: onDay(0), who: 'Ines' };
  return known.evaluate(facts, new FarmSettings([row]).here(known, facts.systemId), onDay(day));
}

/** Those strong enough to open an alert. */
export const firing = (findings: readonly Finding[]): Finding[] =>
  findings.filter(({ status }) => status === 'fires');
