import type { Finding } from '../../../src/alerts/finding.ts';
import type { ConditionState, EquipmentKind, Flow, OffThing } from '../../../src/generated/prisma/enums.ts';
import { type Random, seededRandom } from '../../../src/science/statistics/random.ts';
import type {
  DoseFact,
  FaultFact,
  KeptFact,
  KitFact,
  KitPutAwayFact,
  LookFact,
  LotFact,
  MoveFact,
  PestFact,
  ProbeFact,
  ReadingFact,
  RoutineFact,
  SilentDeviceFact,
  SwitchedOffFact,
  SystemFacts,
} from '../../../src/watch/facts/types.ts';
import { rules } from '../../../src/watch/rules/registry.ts';
import { alkalinityWorld, creepWorld } from '../../science/worlds.ts';
import { dkh, useWorld } from '../demand-worlds.ts';
import {
  blankKit,
  blankSystem,
  dayZero,
  dose,
  find,
  firing,
  madeId,
  onDay,
  reading,
  waterChange,
} from '../facts.ts';
import { blankRack, light, look, lotOf, survey } from '../kinds.ts';
import { photographsOf } from './photographed.ts';

/** The day on which all these worlds are looked at. */
export const today = 200;

const pick = <T>(random: Random, from: readonly T[]): T => from[random.below(from.length)] as T;
const chance = (random: Random, p: number): boolean => random.uniform() < p;
const between = (random: Random, low: number, high: number): number => low + (high - low) * random.uniform();

/** A usual level, how far its tests scatter, and levels at which something is wrong; canonical units. */
const levels: Readonly<
  Record<string, { usual: number; u: number; wrong: readonly number[]; band: readonly [number, number] }>
> = {
  alkalinity: {
    usual: 8.2 * dkh,
    u: 0.1 * dkh,
    wrong: [4.5, 5.8, 6.5, 11, 15].map((v) => v * dkh),
    band: [7 * dkh, 9 * dkh],
  },
  calcium: { usual: 430, u: 8, wrong: [300, 360, 520], band: [400, 450] },
  magnesium: { usual: 1320, u: 20, wrong: [950, 1150, 1600], band: [1250, 1400] },
  salinity: { usual: 35, u: 0.2, wrong: [24, 29, 31, 37, 41], band: [34, 36] },
  temperature: { usual: 25.5, u: 0.1, wrong: [11.8, 19, 22, 29, 32.5], band: [24, 27] },
  ph: { usual: 8.2, u: 0.03, wrong: [7.2, 7.6, 8.6, 9.5], band: [7.9, 8.4] },
  nitrate: { usual: 8, u: 0.6, wrong: [0.05, 0.2, 25, 48], band: [2, 15] },
  phosphate: { usual: 0.06, u: 0.006, wrong: [0.001, 0.012, 0.4], band: [0.03, 0.1] },
  ammonia: { usual: 0.01, u: 0.02, wrong: [0.2, 0.9, 3], band: [0, 0.1] },
  nitrite: { usual: 0.01, u: 0.01, wrong: [0.5], band: [0, 0.1] },
  oxygen: { usual: 6.8, u: 0.1, wrong: [4.6, 3.2], band: [5.5, 8] },
  copper: { usual: 0.002, u: 0.001, wrong: [0.05, 0.2], band: [0, 0.01] },
};

/** Weekly tests that stood as usual and then, maybe, went wrong; the last ones maybe not confirmed. */
function readingsOf(random: Random, code: string, kitId: string | null): ReadingFact[] {
  const { usual, u, wrong } = levels[code] as (typeof levels)[string];
  const bad = chance(random, 0.35) ? pick(random, wrong) : usual;
  const since = today - between(random, 0.2, 40);
  const doubted = chance(random, 0.25);
  const days = [...Array.from({ length: 28 }, (_, i) => 4 + 7 * i), today - 0.3, today - 0.2, today - 0.1];
  return days.map((day, i) => {
    const level = day >= since ? bad : usual;
    const last = i >= days.length - (doubted ? 1 : 0);
    const value = Math.max(0, level + 0.4 * u * random.normal());
    return reading(day, value, u, { kitId, ...(last ? { trust: 'unconfirmed' as const } : {}) });
  });
}

/** A kit that is well, past its date, or reads low against its standard. */
function kitOf(random: Random, code: string): KitFact {
  const state = random.below(4);
  const { usual, u } = levels[code] as (typeof levels)[string];
  const id = `kit ${code}`;
  return blankKit({
    id,
    label: `Kit of ${code}`,
    quantityCode: code,
    u,
    openedDay: dayZero + 100,
    openedAt: onDay(100).toISOString(),
    expiresDay: state === 1 ? dayZero + 150 : null,
    checks: [180, 181, 182, 183, 184].map((day) => ({
      id: madeId(),
      day: dayZero + day,
      at: onDay(day).toISOString(),
      standard: usual,
      value: usual * (state === 2 ? 0.8 : 1),
      u: 0.02 * usual,
    })),
    systems: [
      {
        systemId: 'system',
        name: 'Long run',
        firstDay: dayZero + 100,
        readings: [reading(today - 1, usual, u, { kitId: id })],
      },
    ],
  });
}

const kinds = ['platygyra-daedalea', 'acropora-tenuis', 'galaxea-fascicularis', 'montipora-digitata'];
const states: readonly ConditionState[] = [
  'well',
  'paling',
  'paling',
  'bleached',
  'receding',
  'receding',
  'pest',
  'polyps_shut',
  'silt',
  'algae',
  'loose',
  'jet',
  'other',
];
const flows: readonly Flow[] = ['still', 'low', 'medium', 'high'];

function lotsOf(random: Random): LotFact[] {
  return Array.from({ length: 10 }, (_, i) => {
    const placed = chance(random, 0.5) ? 10 : today - between(random, 1, 20);
    const first = pick(random, [30, 60, 90, 140, 220]);
    const moved = chance(random, 0.4) ? [light(placed, first * pick(random, [0.3, 0.6, 1.6, 2.5]))] : [];
    const looks = Array.from({ length: random.below(4) }, (_, n) =>
      look(today - 0.2 - n * between(random, 0.5, 12), pick(random, states), pick(random, [1, 2, 3])),
    );
    return lotOf(pick(random, kinds), {
      id: `lot ${i}`,
      code: `LOT-${i}`,
      placedDay: dayZero + placed,
      placedAt: onDay(placed).toISOString(),
      rackId: `rack ${i % 2}`,
      cells: [{ row: 1 + (i % 3), column: 1 + i }],
      sizeMm: 40,
      lampId: `lamp ${i % 2}`,
      flow: pick(random, flows),
      jet: chance(random, 0.15),
      base: pick(random, ['sand', 'rock', 'egg_crate'] as const),
      depthMm: 340,
      light: chance(random, 0.1) ? [] : [light(0, first), ...moved],
      conditions: looks.sort((a, b) => b.day - a.day),
    });
  });
}

/** In every ninth world two lots of one day's cutting lose flesh since. */
const cutTogether = (seed: number, lots: LotFact[]): LotFact[] =>
  seed % 9 !== 0
    ? lots
    : lots.map((lot, i) =>
        i > 1
          ? { ...lot, conditions: lot.conditions.filter(({ state }) => state !== 'receding') }
          : {
              ...lot,
              cutDay: dayZero + today - 9,
              conditions: [look(today - 1, 'receding', 1), look(today - 12, 'well')],
            },
      );

/** In every ninth world a lot lost flesh that goes no further. */
const standingStill = (seed: number, lots: LotFact[]): LotFact[] =>
  seed % 9 !== 4
    ? lots
    : lots.map((lot, i) =>
        i > 0
          ? lot
          : {
              ...lot,
              conditions: [
                { ...look(today - 1, 'receding', 2), compared: 'as_before' as const },
                look(today - 9, 'receding', 2),
                look(today - 20, 'well'),
              ],
            },
      );

/** Sometimes lots of one kind, or of several, lost pieces of late after a year with few losses. */
function lossesOf(random: Random): SystemFacts['losses'] {
  const now = dayZero + today;
  const dying = Math.max(0, random.below(16) - 8);
  const spread = random.uniform() < 0.5 ? 1 : 4;
  const stays = Array.from({ length: 40 }, (_, i) => ({
    ...{ lotId: `00000000-0000-7000-a000-0000000001${String(i).padStart(2, '0')}`, code: `L${i}` },
    ...{
      kindId: `00000000-0000-7000-a000-00000000020${i % 4}`,
      kindName: `Kind ${i % 4}`,
      fromDay: now - 300,
      toDay: null,
    },
  }));
  const deaths = Array.from({ length: dying }, (_, i) => ({
    ...{
      id: madeId(),
      lotId: stays[(i * 4 + (i % spread)) % 40]?.lotId ?? '',
      day: now - 1 - random.below(10),
      pieces: 1,
    },
  }));
  return { stays, deaths };
}

/** Sometimes the affected lots of the site share a cut, a rack or what was done to the water. */
function sharedOf(random: Random): SystemFacts['shared'] {
  if (!chance(random, 0.3)) return [];
  const by = pick(random, ['cut batch', 'rack', 'water', 'lamps', 'moved']);
  const firstSeen = onDay(today - 4).toISOString();
  const one = {
    ...{
      sign: pick(random, ['pale', 'flesh'] as const),
      days: 14,
      rackIds: ['rack 0'],
      lampId: null,
      by,
      name: 'LOT-0, 2026-07-01',
      same: [{ by: 'kind', name: 'Kind 1' }],
    },
    ...{ affectedIn: 4, totalIn: 5, affectedOut: 1, totalOut: 90, p: 0.0005, systemId: 'system' },
    ...{ lots: [{ id: 'lot 0', code: 'LOT-0', firstSeen }], at: onDay(today - 0.1).toISOString() },
  };
  return [one];
}

/** Sometimes a water is under watch for a pest, seen lately or long ago, treated or not. */
function pestsOf(random: Random): PestFact[] {
  if (!chance(random, 0.3)) return [];
  const openedAt = onDay(today - between(random, 0.5, 60));
  const grade = pick(random, [null, 1, 2, 3]);
  const seen = { conditionId: madeId(), lotId: 'lot 0', code: 'LOT-0', at: openedAt, note: '', by: '' };
  return [
    {
      ...{ id: madeId(), systemId: 'system', systemName: 'Long run', siteId: 'site', timeZone: 'UTC' },
      ...{ tankId: null, tankName: '', pest: pick(random, ['acropora_flatworm', 'unnamed', 'porites_slug']) },
      ...{ openedAt, openedWhy: '', endedAt: null, endedWhy: '', version: 1 },
      sightings: [{ ...seen, grade, counted: pick(random, [null, 4]), deliveryId: null, supplier: null }],
      looks: chance(random, 0.5)
        ? [{ id: madeId(), at: onDay(today - 0.4), found: 0, note: '', by: '' }]
        : [],
      ...{ treatments: [], arrivals: [] },
    },
  ];
}

const things: readonly OffThing[] = [
  'all_flow',
  'wave_pump',
  'air',
  'heating',
  'cooling',
  'doser',
  'top_up',
  'light',
  'valve_open',
  'skimmer',
];

function offOf(random: Random): SwitchedOffFact[] {
  return Array.from({ length: random.below(3) }, () => {
    const since = today - between(random, 0.02, 1);
    const back = chance(random, 0.3);
    const thing = pick(random, things);
    return {
      id: madeId(),
      day: dayZero + since,
      at: onDay(since).toISOString(),
      dueDay: dayZero + since + 0.02,
      lateDay: dayZero + since + 0.03,
      onDay: back ? dayZero + today - 0.01 : null,
      thing,
      what: `Thing (${thing})`,
      why: 'cleaning',
      onReturn: 'It runs.',
      equipmentId: madeId(),
      feedingId: null,
      tankId: null,
      tankName: '',
      keeper: '',
    };
  });
}

const faultOf = (random: Random): FaultFact => ({
  id: madeId(),
  day: dayZero + today - 0.2,
  at: onDay(today - 0.2).toISOString(),
  mendedDay: null,
  seen: 'hums and does not turn',
  equipmentId: 'pump',
  equipment: 'Pump left',
  kind: pick(random, ['wave_pump', 'heater'] as unknown as EquipmentKind[]),
  by: 'Bea',
  leftOut: pick(random, [false, true]),
});

const routineOf = (work: RoutineFact['work'], quantityCode: string | null): RoutineFact => ({
  id: madeId(),
  work,
  quantityCode,
  words: work,
  everyDays: 7,
  weekdays: [],
  startsDay: dayZero,
  lastDay: dayZero + today - 30,
});

const overdoseOf = (random: Random): DoseFact => {
  const code = pick(random, ['alkalinity', 'calcium', 'magnesium']);
  return {
    ...dose(today - 0.15, code, code === 'alkalinity' ? 4 * dkh : 120),
    substance: chance(random, 0.5) ? 'saturated limewater' : 'made-up solution',
    concerns: ['It is ten times the usual.'],
    byInstrument: true,
  };
};

function probeOf(random: Random): ProbeFact {
  const flat = chance(random, 0.5);
  return {
    kitId: 'probe',
    label: 'pH probe',
    quantityCode: 'ph',
    everyMinutes: 10,
    u: 0.05,
    lastDay: dayZero + today - (flat ? 0 : 0.5),
    taken: 288,
    rejected: 0,
    samples: Array.from({ length: 288 }, (_, i) => {
      const day = dayZero + today - 2 + i / 144;
      const swing = 8.1 + 0.15 * Math.sin(2 * Math.PI * day);
      return { day, value: flat && i > 60 ? 8.11 : Math.round(100 * swing) / 100 };
    }),
  };
}

/** A device that went silent by its last will, with its probes or with none that are known. */
function silentDeviceOf(random: Random, topic: string): SilentDeviceFact {
  const since = today - between(random, 0.01, 2);
  return {
    topic,
    since: onDay(since).toISOString(),
    sinceDay: dayZero + since,
    probes: chance(random, 0.5)
      ? [{ name: topic.replace('state', 'ph'), kitId: 'probe', label: 'pH probe', systemName: 'Long run' }]
      : [],
  };
}

/** Looks that were asked for, of which some were not taken. */
const looksOf = (random: Random): LookFact[] =>
  Array.from({ length: random.below(3) }, () => {
    const due = today - between(random, -0.1, 0.4);
    return {
      id: madeId(),
      day: dayZero + due - 0.1,
      at: onDay(due - 0.1).toISOString(),
      dueDay: dayZero + due,
      doneDay: chance(random, 0.3) ? dayZero + due : null,
      title: 'The water is too warm',
      detail: 'read the temperature',
      href: '/emergencies/1',
      urgent: chance(random, 0.5),
    };
  });

/** A kit that was put away, with or without another in the cupboard. */
const putAwayOf = (random: Random): KitPutAwayFact => ({
  id: madeId(),
  label: 'Old bottle',
  quantityCode: pick(random, Object.keys(levels)),
  day: dayZero + today - between(random, 0, 6),
  at: onDay(today - 1).toISOString(),
  others: chance(random, 0.4)
    ? [{ id: madeId(), label: 'New bottle', openedDay: dayZero + 190, tested: 0, usedHere: false }]
    : [],
});

/** A test by another method beside the last ones, which says what they do not. */
function byAnotherMethod(random: Random, code: string, readings: readonly ReadingFact[]): ReadingFact[] {
  const { usual, u, wrong } = levels[code] as (typeof levels)[string];
  const said = (readings.at(-1)?.value ?? usual) === usual ? pick(random, wrong) : usual;
  const other = reading(today - 0.05, said, u, { methodId: 'another', trust: 'unconfirmed' });
  return [...readings, other];
}

/** Falls by so much a day over the last days, doses going on: carbonate that drops out. */
function dropping(random: Random): Pick<SystemFacts, 'readings' | 'doses'> {
  const perDay = between(random, 0.8, 1.6);
  const days = Array.from({ length: 41 }, (_, i) => today - 40 + i);
  const fallen = (day: number) => Math.max(0, day - today + 4);
  return {
    readings: new Map([
      ['alkalinity', days.map((day) => reading(day, (8.5 - perDay * fallen(day)) * dkh, 0.07))],
      [
        'calcium',
        days
          .filter((day) => (today - day) % 3 === 0)
          .map((day) => reading(day, 430 - 7.15 * (perDay + 0.5) * fallen(day), 10)),
      ],
    ]),
    doses: days.map((day) => dose(day + 0.1, 'alkalinity', 0.5 * dkh)),
  };
}

/** Long histories of a simulated farm, for what is learnt over weeks. */
function history(random: Random, seed: number): Partial<SystemFacts> {
  const kind = random.below(6);
  if (kind === 0) return useWorld({ seed, days: today, use: 0.8, calciumRatio: pick(random, [5, 60]) });
  if (kind === 1)
    return useWorld({ seed, days: today, use: 0.6, onset: 150, factor: pick(random, [0.4, 1.9]) });
  if (kind === 2) return dropping(random);
  if (kind === 3) {
    const world = alkalinityWorld({ seed, days: today, onset: 165, factor: 4 });
    return {
      readings: new Map([
        ['alkalinity', world.map(({ day, value, sd }) => reading(day, value * dkh, sd * dkh))],
      ]),
    };
  }
  if (kind === 4) {
    const { log } = creepWorld({ seed, days: today, onset: 130, gap: 3.5, rise: 2 });
    return {
      readings: new Map([
        [
          'nitrate',
          log.readings.map(({ day, value, relativeSd }) => reading(day, value, relativeSd * value)),
        ],
      ]),
      changes: log.changes.map(({ day, fraction }) => waterChange(day, fraction)),
    };
  }
  return {
    readings: new Map([
      [
        'alkalinity',
        Array.from({ length: 60 }, (_, i) =>
          reading(140 + i, (8.6 - 0.04 * Math.max(0, i - 40)) * dkh, 0.04),
        ),
      ],
    ]),
  };
}

/** pH of a quiet week that falls far below it within an hour, as where pumps stop. */
const sunken = [
  ...Array.from({ length: 14 }, (_, i) => reading(today - 7.5 + i / 2.1, 8.2 + 0.02 * (i % 3), 0.03)),
  reading(today - 0.06, 7.8, 0.03),
  reading(today - 0.02, 7.6, 0.03),
];

/** Temperature of a quiet week that leaves it within hours, inside a band that allows it, as where a heater sticks on. */
const warmed = [
  ...Array.from({ length: 14 }, (_, i) => reading(today - 7.5 + i / 2.1, 25.5 + 0.1 * (i % 3), 0.1)),
  reading(today - 0.2, 26.9, 0.1),
  reading(today - 0.02, 26.9, 0.1),
];

/** A system in which much goes wrong at once, by a seed. Lots, racks, lamps and kits have the same keys in all of them. */
export function troubledWorld(seed: number): SystemFacts {
  const random = seededRandom(seed);
  const past = history(random, seed);
  const kits = Object.keys(levels)
    .filter(() => chance(random, 0.3))
    .map((code) => kitOf(random, code));
  const kitFor = (code: string) => kits.find(({ quantityCode }) => quantityCode === code)?.id ?? null;
  const readings = new Map<string, readonly ReadingFact[]>(
    Object.keys(levels)
      .filter(() => chance(random, 0.6))
      .map((code) => {
        const own = readingsOf(random, code, kitFor(code));
        return [code, chance(random, 0.1) ? byAnotherMethod(random, code, own) : own];
      }),
  );
  for (const [code, own] of past.readings ?? []) readings.set(code, own);
  if (seed % 7 === 0) readings.set('ph', sunken);
  if (seed % 7 === 4) readings.set('temperature', warmed);
  const kept = new Map<string, KeptFact>(
    Object.entries(levels)
      .filter(() => chance(random, 0.6))
      .map(
        ([
          code,
          {
            band: [bandLow, bandHigh],
          },
        ]) => [code, { bandLow, bandHigh, limitHigh: null, makeUp: null, source: 'house rule' }],
      ),
  );
  if (chance(random, 0.1))
    kept.set('salinity', { bandLow: 1.023, bandHigh: 1.026, limitHigh: null, makeUp: null, source: '' });
  const hot = chance(random, 0.3);
  const turned = pick(random, [40, 60, 95]);
  const facts = blankSystem({
    ...past,
    systemId: 'system',
    readings,
    kept: new Map([...kept, ...(past.kept ?? [])]),
    doses: [...(past.doses ?? []), ...(chance(random, 0.2) ? [overdoseOf(random)] : [])],
    switchedOff: offOf(random),
    siteMoves: seed % 7 === 3 ? sunkTogether : [],
    looks: looksOf(random),
    kitsPutAway: chance(random, 0.2) ? [putAwayOf(random)] : [],
    faults: chance(random, 0.15) ? [faultOf(random)] : [],
    routines: chance(random, 0.4)
      ? [
          routineOf('dose', 'alkalinity'),
          routineOf('feeding', null),
          routineOf('water_change', null),
          routineOf('test', 'nitrate'),
        ].slice(0, 1 + random.below(4))
      : [],
    probes: chance(random, 0.2) ? [probeOf(random)] : [],
    temperatures: Array.from({ length: 110 }, (_, i) => ({
      day: dayZero + today - 110 + i,
      mean: hot && i > 60 ? 30 : 25.5,
    })),
    kits,
    lots: standingStill(seed, cutTogether(seed, lotsOf(random))),
    lamps: [0, 1].map((i) => ({
      id: `lamp ${i}`,
      name: `Bars ${i}`,
      tankName: 'Raceway 1',
      settings: [
        { id: madeId(), day: dayZero, at: onDay(0).toISOString(), percent: 60, note: '' },
        {
          id: madeId(),
          day: dayZero + today - 10,
          at: onDay(today - 10).toISOString(),
          percent: turned,
          note: '',
        },
      ],
    })),
    racks: [0, 1, 2].map((i) =>
      blankRack({
        id: `rack ${i}`,
        name: `N${i}`,
        lampId: `lamp ${i % 2}`,
        surveys: chance(random, 0.3)
          ? [survey(0, 120), survey(60, chance(random, 0.5) ? 60 : 118)]
          : [survey(0, 90)],
      }),
    ),
    // Last, so that the other facts of a seed stay as they are.
    pests: pestsOf(random),
    losses: lossesOf(random),
    shared: sharedOf(random),
  });
  return {
    ...facts,
    silentDevices: ['hall/ph1/state', 'hall/pumps/state']
      .filter(() => chance(random, 0.15))
      .map((topic) => silentDeviceOf(random, topic)),
    photographs: ['rack 0', 'rack 1']
      .filter(() => chance(random, 0.3))
      .map((rackId) => photographsOf(random, rackId, facts.lots, today)),
  };
}

/** Three systems of one site whose pH sank in one night, this one among them. */
const sunkTogether: readonly MoveFact[] = ['system', 'other 1', 'other 2'].map((systemId) => ({
  systemId,
  siteId: 'site',
  name: systemId,
  code: 'ph',
  readingId: `reading of ${systemId}`,
  day: dayZero + today,
  at: onDay(today).toISOString(),
  value: 7.8,
  u: 0.03,
  before: [8.2, 8.21, 8.19],
  kitId: null,
  kitLabel: '',
  probe: false,
  checkedDay: null,
  circuits: [],
}));

/** What all rules say of a world, as it opens alerts. */
export const foundIn = (facts: SystemFacts): Finding[] =>
  rules.flatMap((rule) => firing(find(rule, facts, today)));
