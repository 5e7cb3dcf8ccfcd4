import type { BottleJob } from './bottle-job.ts';
import { type CalmJob, farmTroubles } from './calm-job.ts';
import type { CutJob } from './cut-job.ts';
import type { KitJob } from './kit-job.ts';
import type { LightJob } from './light-job.ts';
import type { Job } from './pool.ts';
import { ruleFor, type Tried } from './settings.ts';
import type { Trouble, WaterJob } from './water-job.ts';
import type { Habit } from './world.ts';

// Aims and the study's figures: the simulation study in DEVELOPERS.md.

export interface Size {
  systems: number;
  onsets: number;
  kits: number;
}

/** 250 systems for two years make 500 system-years in control. */
export const fullSize: Size = { systems: 250, onsets: 500, kits: 500 };
export const quickSize: Size = { systems: 25, onsets: 50, kits: 50 };

/** Report seeds were used for nothing but what is printed; the rules and rivals are tuned on the others. */
export const reportSeeds = 700_000_000;
export const tuningSeeds = 300_000_000;
/** Seeds of one job begin this far after those of the one before. */
const apart = 1_000_000;

const step = (aim: number, study: string): Trouble => ({
  name: 'step, 12 % a week',
  nitrate: 'step',
  aim,
  study,
});
const stop = (aim: number, study: string): Trouble => ({
  name: 'changes stopped',
  nitrate: 'stop',
  aim,
  study,
});
const ramp = (study: string): Trouble => ({ name: 'ramp, 12 % a week', nitrate: 'ramp', study });

interface CreepRow {
  habit: Habit;
  relativeSd: number;
  chart?: boolean;
  wander: number;
  troubles: Trouble[];
}

const wandering = 0.15;
const steady = (study: string): Trouble[] => [{ name: 'step, 12 % a week', nitrate: 'step', study }];

const creepRows: CreepRow[] = [
  {
    habit: '2 a week',
    relativeSd: 0.1,
    wander: wandering,
    troubles: [step(24, '23'), stop(20, '-'), ramp('-')],
  },
  {
    habit: 'weekly',
    relativeSd: 0.1,
    wander: wandering,
    troubles: [step(28, '28'), stop(25, '-'), ramp('-')],
  },
  {
    habit: '2-weekly',
    relativeSd: 0.1,
    wander: wandering,
    troubles: [step(35, '33'), stop(30, '-'), ramp('-')],
  },
  { habit: '2 a week', relativeSd: 0.1, wander: 0, troubles: [...steady('23'), stop(20, '17')] },
  { habit: 'weekly', relativeSd: 0.1, wander: 0, troubles: [...steady('29'), stop(25, '20')] },
  { habit: '2-weekly', relativeSd: 0.1, wander: 0, troubles: [...steady('29'), stop(30, '24')] },
  { habit: '2 a week', relativeSd: 0.05, wander: wandering, troubles: [step(17, '17')] },
  { habit: 'weekly', relativeSd: 0.2, chart: true, wander: wandering, troubles: [step(45, '45')] },
];

const creepJob = ({ habit, relativeSd, chart = false, wander, troubles }: CreepRow) => ({
  rule: ruleFor.creep,
  heading: `Nitrate creep, ${habit}, ${Math.round(relativeSd * 100)} %${chart ? ' chart' : ''} tests, ${wander > 0 ? 'wandering' : 'steady'} production`,
  water: { quantity: 'nitrate' as const, plan: { habit, relativeSd, chart, wander } },
  troubles,
  within: 60,
  rateAim: 0.3,
});

/** Alkalinity kits differ by this, relative: own guess. */
const kitsDiffer = 0.025;

interface SwingRow {
  habit: Habit;
  testSd: number;
  repeated?: boolean;
  wander?: number;
  kitSd?: number;
  troubles: Trouble[];
}

const doubled = (aim: number, study: string): Trouble => ({ name: 'swing doubled', factor: 2, aim, study });
const tripled = (aim: number, study: string): Trouble => ({ name: 'swing tripled', factor: 3, aim, study });

const swingRows: SwingRow[] = [
  { habit: 'daily', testSd: 0.1, troubles: [doubled(20, '20'), tripled(8, '6 to 7')] },
  { habit: 'daily', testSd: 0.1, repeated: true, troubles: [doubled(16, '14 to 16'), tripled(8, '6 to 7')] },
  { habit: 'daily', testSd: 0.2, troubles: [doubled(47, '47'), tripled(17, '15')] },
  { habit: '2nd day', testSd: 0.1, troubles: [doubled(28, '25')] },
  { habit: '2 a week', testSd: 0.1, troubles: [doubled(39, '39'), tripled(17, '15')] },
  {
    habit: 'daily',
    testSd: 0.1,
    wander: 0.15,
    troubles: [doubled(20, 'not simulated'), tripled(8, 'not simulated')],
  },
  {
    habit: 'daily',
    testSd: 0.1,
    wander: 0.15,
    repeated: true,
    troubles: [doubled(16, 'not simulated'), tripled(8, 'not simulated')],
  },
  {
    habit: 'daily',
    testSd: 0.1,
    kitSd: kitsDiffer,
    troubles: [doubled(20, 'not simulated'), tripled(8, 'not simulated')],
  },
];

const kindOf = ({ repeated = false, wander = 0, kitSd = 0 }: Omit<SwingRow, 'troubles'>) =>
  `${repeated ? ', surprising readings repeated' : ''}${wander > 0 ? ', wandering level' : ''}${kitSd > 0 ? ', kits that differ' : ''}`;

const alkalinityOf = ({ habit, testSd, repeated = false, wander = 0, kitSd }: SwingRow) => ({
  quantity: 'alkalinity' as const,
  plan: { habit, testSd, swing: 0.1, wander, repeated, ...(kitSd === undefined ? {} : { kitSd }) },
});

const swingJob = (row: SwingRow) => ({
  rule: ruleFor.swing,
  heading: `Alkalinity swing, ${row.habit}, ${row.testSd} dKH${kindOf(row)}`,
  water: alkalinityOf(row),
  troubles: row.troubles,
  within: 28,
  rateAim: 0.5,
  openAim: 0.06,
});

const falls = (aim: number, study: string): Trouble[] => [
  { name: 'fall of 0.1 dKH a day', fall: 0.1, aim, shareAim: 0.9, study },
];

const fallRows: SwingRow[] = [
  { habit: 'daily', testSd: 0.1, wander: 0.15, troubles: falls(7, '6') },
  { habit: 'daily', testSd: 0.2, wander: 0.15, troubles: falls(7, '7') },
  { habit: '3 a week', testSd: 0.1, wander: 0.15, troubles: falls(8, '7') },
  { habit: 'daily', testSd: 0.1, wander: 0.15, kitSd: kitsDiffer, troubles: falls(7, 'not simulated') },
];

/** From 8.2 dKH the level passes 7.0 on day 12: found by day 10 leaves two days. */
const fallJob = (row: SwingRow) => ({
  rule: ruleFor.fall,
  heading: `Alkalinity fall, ${row.habit}, ${row.testSd} dKH${kindOf(row)}`,
  water: alkalinityOf(row),
  troubles: row.troubles,
  within: 10,
  rateAim: 0.1,
});

const demandRows = [
  { gap: 2, testSd: 0.1, name: '2nd day' },
  { gap: 3.5, testSd: 0.1, name: '2 a week' },
];

const demandJob = ({ gap, testSd, name }: (typeof demandRows)[number]) => ({
  rule: ruleFor.demand,
  heading: `Change of demand, ${name}, ${testSd} dKH`,
  water: { quantity: 'demand' as const, plan: { gap, testSd } },
  troubles: [
    { name: 'use fell by a third', factor: 2 / 3 },
    { name: 'use fell by half', factor: 0.5 },
  ],
  within: 28,
  rateAim: 0.3,
});

const roughRows = [
  { gap: 1, testSd: 0.1, name: 'daily' },
  { gap: 2, testSd: 0.1, name: '2nd day' },
  { gap: 2, testSd: 0.1, looked: true, name: '2nd day, container looked into' },
];

/** Made after the rules, and nothing was tuned on it. */
const keptBackRow = { gap: 1.5, testSd: 0.15, saleEvery: 70, name: 'every day or two, sales every 70 days' };
/** The same, made after falls were judged by all windows together. */
const coarseRow = { gap: 3, testSd: 0.2, saleEvery: 100, name: 'every third day, sales every 100 days' };

/** A third of the stock is sold every 150 days on average: own choice. */
const roughDemandJob = ({
  name,
  ...plan
}: (typeof roughRows)[number] | typeof keptBackRow | typeof coarseRow) => ({
  rule: ruleFor.demand,
  heading: `Change of demand, rough farm, ${name}, ${plan.testSd} dKH`,
  water: { quantity: 'rough demand' as const, plan: { saleEvery: 150, ...plan } },
  troubles: [
    { name: 'use fell by 30 %', factor: 0.7, shareAim: 0.8 },
    { name: 'use fell by half', factor: 0.5 },
    { name: 'wrong cause: doser stuck on, 1.6 times', gives: 1.6, wrong: true },
    { name: 'wrong cause: doser swings', swings: 0.57, wrong: true },
    { name: 'wrong cause: a third sold', soldAtOnset: true, wrong: true },
  ],
  within: 28,
  rateAim: 0.3,
});

/** Slow trouble in rough water, each with the aim of rough worlds. */
const roughWaterRows = [
  {
    rule: ruleFor.swing,
    heading: 'Alkalinity swing, rough farm, daily, 0.1 dKH',
    water: { quantity: 'rough demand' as const, plan: { gap: 1, testSd: 0.1, saleEvery: 150 } },
    troubles: [{ name: 'swing doubled', swingTimes: 2, aim: 30 }],
    within: 30,
    rateAim: 0.5,
    openAim: 0.06,
  },
  {
    rule: ruleFor.fall,
    heading: 'Alkalinity fall, rough farm, daily, 0.1 dKH',
    water: { quantity: 'rough demand' as const, plan: { gap: 1, testSd: 0.1, saleEvery: 150 } },
    troubles: [
      {
        ...{ name: 'fall of 0.1 dKH a day, two days before it is below 7.0', fall: 0.1 },
        ...{ before: { level: 7, days: 2 }, shareAim: 0.9 },
      },
    ],
    within: 60,
    rateAim: 0.3,
  },
  {
    ...creepJob({ habit: 'weekly', relativeSd: 0.1, wander: wandering, troubles: [{ ...step(32, '-') }] }),
    heading: 'Nitrate creep, rough farm, weekly, 10 % tests, wandering production',
    water: {
      quantity: 'nitrate' as const,
      plan: { habit: 'weekly' as const, relativeSd: 0.1, chart: false, wander: wandering, rough: true },
    },
  },
];

type KitRow = Pick<KitJob, 'quantity' | 'habit' | 'u' | 'checksEvery' | 'by' | 'aim'>;

const suspected = (share: number) => ({ of: 'suspected' as const, share });
const named = (share: number) => ({ of: 'named' as const, share });
const cannotTell = { of: 'cannotTell' as const, share: 0.5 };

const kitRows: KitRow[] = [
  { quantity: 'alkalinity', habit: 'daily', u: 0.012, checksEvery: null, by: 14, aim: suspected(0.95) },
  { quantity: 'alkalinity', habit: 'daily', u: 0.024, checksEvery: null, by: 14, aim: suspected(0.95) },
  { quantity: 'alkalinity', habit: '2 a week', u: 0.024, checksEvery: null, by: 14, aim: suspected(0.92) },
  { quantity: 'alkalinity', habit: 'daily', u: 0.024, checksEvery: 28, by: 30, aim: named(0.96) },
  { quantity: 'alkalinity', habit: '2 a week', u: 0.037, checksEvery: 28, by: 30, aim: named(0.96) },
  { quantity: 'nitrate', habit: '2 a week', u: 0.05, checksEvery: null, by: 28, aim: cannotTell },
  { quantity: 'nitrate', habit: 'weekly', u: 0.1, checksEvery: null, by: 28, aim: cannotTell },
  { quantity: 'nitrate', habit: 'weekly', u: 0.05, checksEvery: 14, by: 30, aim: suspected(0.97) },
  { quantity: 'nitrate', habit: 'weekly', u: 0.1, checksEvery: 14, by: 30, aim: suspected(0.56) },
  { quantity: 'nitrate', habit: 'weekly', u: 0.2, checksEvery: 14, by: 30, aim: cannotTell },
];

const kitJob = (row: KitRow, bias: number) => ({
  ...row,
  heading: `${row.quantity} ${Number((row.u * 100).toFixed(1))} %, ${row.habit}${row.checksEvery === null ? '' : `, standard twice every ${row.checksEvery} d`}`,
  moving: true,
  bias,
});

/** All that the bench runs; whole systems in parts at the end, so that the threads share them. */
export function planJobs(size: Size, seeds: { report: number; tune: number }, tried: Tried): Job[] {
  let place = 0;
  const seeded = () => {
    place += 1;
    return { seed: seeds.report + place * apart, tuneSeed: seeds.tune + place * apart, tried };
  };
  const waters = [
    ...creepRows.map(creepJob),
    ...demandRows.map(demandJob),
    ...swingRows.map(swingJob),
    ...fallRows.map(fallJob),
  ].map(
    (job): WaterJob => ({ kind: 'water', ...job, systems: size.systems, onsets: size.onsets, ...seeded() }),
  );
  const kits = kitRows.flatMap((row) =>
    [0, -0.1].map(
      (bias): KitJob => ({ kind: 'kit', ...kitJob(row, bias), kits: size.kits, ...omitTune(seeded()) }),
    ),
  );
  const lights = [1.3, 1.5, 1.6, 1.7, 1.9, 2].map(
    (ratio): LightJob => ({
      kind: 'light',
      ratio,
      surveyError: 0.1,
      lots: size.kits,
      ...omitTune(seeded()),
    }),
  );
  const calm = Array.from(
    { length: calmParts },
    (): CalmJob => ({
      kind: 'calm',
      heading: 'All rules together on whole systems in control',
      systems: Math.ceil(size.systems / calmParts),
      rateAim: 3,
      seed: seeded().seed,
    }),
  );
  const rough = roughRows.map(
    (row): WaterJob => ({
      kind: 'water',
      ...roughDemandJob(row),
      systems: size.systems,
      onsets: size.onsets,
      ...seeded(),
    }),
  );
  const troubled = farmTroubles.map(
    (trouble): CalmJob => ({
      kind: 'calm',
      heading: `All rules together, ${trouble.name}`,
      systems: Math.ceil(size.onsets / 10),
      rateAim: 0.1,
      trouble,
      seed: seeded().seed,
    }),
  );
  const keptBack: WaterJob = {
    ...{ kind: 'water', ...roughDemandJob(keptBackRow) },
    ...{ systems: size.systems, onsets: size.onsets, ...seeded() },
  };
  const roughWater = roughWaterRows.map(
    (row): WaterJob => ({
      kind: 'water',
      ...row,
      systems: size.systems,
      onsets: size.onsets,
      ...seeded(),
    }),
  );
  const bottles: BottleJob = {
    kind: 'bottles',
    heading: 'True bottles in rough water, daily, standard twice every 28 d',
    systems: Math.ceil(size.systems / 5),
    aim: 0.01,
    ...omitTune(seeded()),
  };
  const cuts: CutJob = {
    kind: 'cuts',
    heading: 'Cuts every two to three weeks, looked at once a week',
    years: size.kits,
    seed: seeded().seed,
  };
  const coarse: WaterJob = {
    ...{ kind: 'water', ...roughDemandJob(coarseRow) },
    ...{ systems: size.systems, onsets: size.onsets, ...seeded() },
  };
  return [
    ...waters,
    ...kits,
    ...lights,
    ...calm,
    ...rough,
    ...troubled,
    keptBack,
    ...roughWater,
    bottles,
    cuts,
    coarse,
  ];
}

const calmParts = 12;

const omitTune = ({ tuneSeed: _, ...rest }: { seed: number; tuneSeed: number; tried: Tried }) => rest;
