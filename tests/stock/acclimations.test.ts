import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import type { LampMeans, PlaceMeans } from '../../src/stock/acclimations/acclimations.schema.ts';
import {
  endAcclimation,
  pauseAcclimation,
  planAcclimation,
  resumeAcclimation,
} from '../../src/stock/acclimations/acclimations.ts';
import { type Acclimation, readAcclimations } from '../../src/stock/acclimations/state.ts';
import { stepBack } from '../../src/stock/acclimations/step-back.ts';
import { doAcclimationStep, leaveOutAcclimationStep } from '../../src/stock/acclimations/steps.ts';
import { dueAcclimationSteps } from '../../src/stock/acclimations/tasks.ts';
import { noteCondition, voidCondition } from '../../src/stock/lots/conditions.ts';
import { moveLot } from '../../src/stock/places/placements.ts';
import { type Ground, layGround, lot, place, survey, turn } from '../farm/ground.ts';
import { type Bench, benchNow, startBench } from '../support/service.ts';

let bench: Bench;
let ground: Ground;
beforeAll(async () => {
  bench = await startBench({ watching: false });
});
afterAll(() => bench.close());

/** Two rows of six: 42 to 80 in front, 100 to 150 behind; eight hours of full light. */
const light = {
  A1: 42,
  A2: 50,
  A3: 58,
  A4: 64,
  A5: 70,
  A6: 80,
  B1: 100,
  B2: 110,
  B3: 120,
  B4: 130,
  B5: 140,
  B6: 150,
};
beforeEach(async () => {
  bench.at(benchNow);
  ground = await layGround(bench, { rows: 2, columns: 6 });
  await turn(bench, ground.lampId, '2026-01-01T00:00:00Z', 60, { litHours: 10, rampHours: 2 });
  await survey(bench, ground, '2026-01-02T00:00:00Z', 60, light);
});

const slot = (name: string) => ground.slots[name] as string;
/** A lot that has stood at a slot for half a year; its kind takes 1.2 times in a step, a week apart, and adapts with ten days. */
async function standing(name: string | null): Promise<string> {
  const lotId = await lot(bench, ground.siteId);
  const figure = (code: string, high: number, low: number | null = null) => ({
    lotId,
    figure: code,
    low,
    high,
    basis: 'own_choice' as const,
  });
  await bench.service.db.careFigure.createMany({
    data: [
      figure('step_ratio', 1.2),
      figure('dwell_days', 7),
      figure('adaptation_days', 10),
      figure('par_range', 140, 40),
      figure('par_ceiling', 145),
      figure('flow', 3, 0),
    ],
  });
  if (name !== null) await place(bench, lotId, [slot(name)], '2026-05-01T00:00:00Z');
  return lotId;
}

const wish = (means: Partial<PlaceMeans> | LampMeans, more: object = {}) => ({
  siteId: ground.siteId,
  name: '',
  reason: '',
  startsOn: '2026-11-24',
  seen: null,
  means:
    'by' in means && means.by === 'lamps'
      ? means
      : {
          by: 'places' as const,
          lotIds: [],
          systemId: null,
          purpose: 'light' as const,
          received: 'here' as const,
          fromPar: null,
          fromHours: null,
          targetPar: null,
          targetSlotIds: [],
          ...means,
        },
  ...more,
});
const plan = async (means: Partial<PlaceMeans> | LampMeans, more: object = {}) =>
  read((await bench.change((work) => planAcclimation(work, wish(means, more)))).id);
async function read(id: string): Promise<Acclimation> {
  const [found] = await readAcclimations(bench.service.pool, { id });
  if (found === undefined) throw new Error('no such acclimation');
  return found;
}
const places = ({ steps }: Acclimation) => steps.map((step) => step.place.replace('Window rack, ', ''));
const doStep = async (acclimation: Acclimation, position = 0, at = bench.service.now()) => {
  const step = acclimation.steps[position];
  return bench.change((work) =>
    doAcclimationStep(work, { stepId: step?.id ?? '', at, note: '', despite: '' }),
  );
};
const due = () => dueAcclimationSteps(bench.service.pool, [ground.systemId], bench.service.now());
const where = async (lotId: string) =>
  (
    await bench.service.pool.query<{ name: string }>(
      'SELECT slot_name AS name FROM lot_place WHERE lot_id = $1',
      [lotId],
    )
  ).rows.map((row) => row.name);
const journal = async (kind: string) => bench.service.db.journalLine.count({ where: { kind } });

describe('planning an acclimation', () => {
  test('gives each step a real free slot and a day, from what the lot is used to here', async () => {
    const lotId = await standing('A2');
    const made = await plan({ lotIds: [lotId], targetPar: 70 });
    expect(made).toMatchObject({ purpose: 'brighter', received: 'here', maxStepRatio: 1.2, dwellDays: 7 });
    expect(places(made)).toEqual(['A3', 'A4', 'A5']);
    expect(made.steps.map((step) => step.dueOn)).toEqual(['2026-11-24', '2026-12-01', '2026-12-08']);
    expect(await journal('acclimation.planned')).toBeGreaterThan(0);
  });

  test('promises no slot that another plan was promised', async () => {
    const [first, second] = [await standing('A2'), await standing('A1')];
    await plan({ lotIds: [first], targetPar: 64 });
    const made = await plan({ lotIds: [second], targetPar: 64 });
    expect(places(made)).not.toContain('A3');
    expect(places(made)).not.toContain('A4');
    expect(made.steps.some((step) => step.slotIds.length === 0)).toBe(true);
  });

  test('takes a delivery together at the pace of its strictest kind, from the dim end where nothing is known', async () => {
    const lots = [await standing(null), await standing(null)];
    await bench.service.db.careFigure.updateMany({
      where: { lotId: lots[1] as string, figure: 'step_ratio' },
      data: { high: 1.16 },
    });
    const made = await plan({
      lotIds: lots,
      systemId: ground.systemId,
      received: 'unknown',
      fromPar: 50,
      targetPar: 64,
    });
    expect(made.maxStepRatio).toBe(1.16);
    const first = made.steps.filter((step) => step.position === 1);
    expect(first.map((step) => Math.round(step.par ?? 0)).sort()).toEqual([42, 50]);
    expect(new Set(first.map((step) => step.slotIds[0])).size).toBe(2);
  });

  test('is refused above a ceiling, into a taken place, twice at once, and without known light, with the reason', async () => {
    const [lotId, other] = [await standing('A2'), await standing('A3')];
    await expect(plan({ lotIds: [lotId], targetPar: 150 })).rejects.toThrow('can take 145');
    await expect(plan({ lotIds: [lotId], targetSlotIds: [slot('A3')] })).rejects.toThrow('is there');
    await plan({ lotIds: [lotId], targetPar: 64 });
    await expect(plan({ lotIds: [lotId, other], targetPar: 64 })).rejects.toThrow('already');
    const dark = await standing(null);
    await expect(plan({ lotIds: [dark], systemId: ground.systemId, targetPar: 64 })).rejects.toThrow(
      'never measured',
    );
  });

  test('is refused when the steps are no longer those that were looked at', async () => {
    const lotId = await standing('A2');
    await expect(plan({ lotIds: [lotId], targetPar: 64 }, { seen: 'other steps' })).rejects.toThrow(
      'Look at them again',
    );
  });
});

describe('a step of an acclimation', () => {
  test('is due on its day, moves the lot, and lets what comes after count from the day it was done', async () => {
    const lotId = await standing('A2');
    const made = await plan({ lotIds: [lotId], targetPar: 70 });
    bench.at('2026-11-27T08:00:00Z');
    expect((await due()).map(({ step, overdueDays, held }) => [step.place, overdueDays, held])).toEqual([
      ['Window rack, A3', 3, null],
    ]);
    await doStep(made);
    expect(await where(lotId)).toEqual(['A3']);
    const after = await read(made.id);
    expect(after.steps.map((step) => step.dueOn)).toEqual(['2026-11-24', '2026-12-04', '2026-12-11']);
    expect((await due()).map(({ done }) => done)).toEqual([true]);
  });

  test('is not done before its day, not twice, and not before the one ahead of it', async () => {
    const made = await plan({ lotIds: [await standing('A2')], targetPar: 70 });
    await expect(doStep(made, 1)).rejects.toThrow('earlier step');
    await doStep(made);
    await expect(doStep(made)).rejects.toThrow('already done');
    await expect(doStep(await read(made.id), 1)).rejects.toThrow('at the earliest');
  });

  test('is held back when the light has changed since, and says how long to wait', async () => {
    const lotId = await standing('A2');
    const made = await plan({ lotIds: [lotId], targetPar: 58 });
    await turn(bench, ground.lampId, '2026-11-24T00:00:00Z', 72, { litHours: 10, rampHours: 2 });
    const [held] = await due();
    expect(held?.held).toMatch(
      /1\.3\d? times what it is used to; it takes 1\.2\. In its present light it is used to enough in about \d+ days/,
    );
    await expect(doStep(made)).rejects.toThrow('Held back');
  });

  test('is held back while another lot stands in its place', async () => {
    const made = await plan({ lotIds: [await standing('A2')], targetPar: 58 });
    const other = await standing('A1');
    await bench.change((work) =>
      moveLot(work, { lotId: other, slotIds: [slot('A3')], at: benchNow, reason: '' }),
    );
    expect((await due())[0]?.held).toContain('is there. Choose another place');
    await expect(doStep(made)).rejects.toThrow('is there');
  });

  test('left out with a reason, the next one is judged against what the lot is used to then', async () => {
    const made = await plan({ lotIds: [await standing('A2')], targetPar: 70 });
    const [first] = made.steps;
    await bench.change((work) =>
      leaveOutAcclimationStep(work, {
        stepId: first?.id ?? '',
        version: made.version,
        reason: 'Shaded instead',
      }),
    );
    bench.at('2026-12-01T08:00:00Z');
    expect((await due())[0]?.held).toContain('put a step between, or choose a dimmer place');
  });

  test('the last one ends it', async () => {
    const made = await plan({ lotIds: [await standing('A2')], targetPar: 58 });
    await doStep(made);
    expect(await read(made.id)).toMatchObject({ endReason: 'Its last step is done.' });
  });
});

describe('an acclimation whose lot pales', () => {
  test('is paused by itself, tells why on the round, and goes on when a person says so, the later for the wait', async () => {
    const lotId = await standing('A2');
    const made = await plan({ lotIds: [lotId], targetPar: 70 });
    await doStep(made);
    bench.at('2026-11-30T08:00:00Z');
    await bench.change((work) =>
      noteCondition(work, { lotId, state: 'paling', grade: 1, note: '', at: bench.service.now() }),
    );
    bench.at('2026-12-04T08:00:00Z');
    expect((await due())[0]?.held).toMatch(/^Paused: .* was seen paling, a little/);
    const paused = await read(made.id);
    await bench.change((work) => resumeAcclimation(work, { id: made.id, version: paused.version, note: '' }));
    const open = (await read(made.id)).steps.slice(1);
    expect(open.map((step) => step.dueOn)).toEqual(['2026-12-04', '2026-12-11']);
  });

  test('goes one step back to where it stood, then stays longer', async () => {
    const lotId = await standing('A2');
    const made = await plan({ lotIds: [lotId], targetPar: 70 });
    await doStep(made);
    bench.at('2026-11-30T08:00:00Z');
    const { version } = await read(made.id);
    await bench.change((work) => stepBack(work, { id: made.id, version, reason: 'Paling', lotId: null }));
    expect(await where(lotId)).toEqual(['A2']);
    const after = await read(made.id);
    expect(after.dwellDays).toBe(11);
    expect(places(after)).toEqual(['A3', 'A2', 'A3', 'A4', 'A5']);
    expect(after.steps.slice(2).map((step) => step.dueOn)).toEqual([
      '2026-12-11',
      '2026-12-22',
      '2027-01-02',
    ]);
    expect(after.steps[1]?.note).toBe('One step back: Paling');
  });

  test('a note that was a mistake leaves the pause to a person', async () => {
    const lotId = await standing('A2');
    const made = await plan({ lotIds: [lotId], targetPar: 70 });
    const { id } = await bench.change((work) =>
      noteCondition(work, { lotId, state: 'bleached', grade: 3, note: '', at: benchNow }),
    );
    await bench.change((work) => voidCondition(work, id, 'Wrong lot'));
    expect((await read(made.id)).pauseReason).toContain('bleached, most of it');
  });

  test('is paused and ended by a person, with a stale page refused', async () => {
    const made = await plan({ lotIds: [await standing('A2')], targetPar: 70 });
    const edit = { id: made.id, version: made.version, reason: 'Holidays' };
    await bench.change((work) => pauseAcclimation(work, edit));
    await expect(bench.change((work) => endAcclimation(work, edit))).rejects.toThrow('Somebody changed');
    await bench.change((work) => endAcclimation(work, { ...edit, version: made.version + 1 }));
    expect(await due()).toEqual([]);
  });
});

describe('a recovery', () => {
  test('moves a bleached lot to a dimmer place now, and raises it only after it was found well on two days', async () => {
    const lotId = await standing('B2');
    await bench.change((work) =>
      noteCondition(work, {
        lotId,
        state: 'bleached',
        grade: 3,
        note: '',
        at: new Date('2026-11-23T08:00:00Z'),
      }),
    );
    const made = await plan({ lotIds: [lotId], purpose: 'recovery', targetPar: 50 });
    expect(places(made)).toEqual(['A1', 'A2']);
    await doStep(made);
    bench.at('2026-12-23T08:00:00Z');
    expect((await due())[0]?.held).toContain('found well on 2 days; so far on none');
    for (const at of ['2026-12-20T08:00:00Z', '2026-12-22T08:00:00Z'])
      await bench.change((work) =>
        noteCondition(work, { lotId, state: 'well', grade: null, note: '', at: new Date(at) }),
      );
    expect((await due())[0]).toMatchObject({ held: null, done: false });
  });
});

describe('a ramp of lamps', () => {
  test('turns the lamps step by step for every lot beneath, and ends above nobody’s ceiling', async () => {
    const lotId = await standing('A4');
    const made = await plan({ by: 'lamps', lampId: ground.lampId, percent: 80, without: [] });
    expect(made.lots.map((one) => one.id)).toEqual([lotId]);
    expect(made.steps.map((step) => step.percent)).toEqual([69, 74, 80]);
    await doStep(made);
    const [newest] = await bench.service.db.lampSetting.findMany({
      where: { lampId: ground.lampId },
      orderBy: { at: 'desc' },
    });
    expect(newest).toMatchObject({ percent: made.steps[0]?.percent, litHours: 10 });
    bench.at('2026-11-25T08:00:00Z');
    const { version } = await read(made.id);
    await bench.change((work) => stepBack(work, { id: made.id, version, reason: 'Paling', lotId: null }));
    expect(
      (
        await bench.service.db.lampSetting.findFirst({
          where: { lampId: ground.lampId },
          orderBy: [{ at: 'desc' }, { id: 'desc' }],
        })
      )?.percent,
    ).toBe(60);
  });

  test('is refused above a ceiling, and says up to where it may go and who to move away', async () => {
    const lotId = await standing('B4');
    const ramp = { by: 'lamps' as const, lampId: ground.lampId, percent: 80, without: [] as string[] };
    await expect(plan(ramp)).rejects.toThrow('Up to 66 %');
    await standing('A4');
    expect((await plan({ ...ramp, without: [lotId] })).lots).toHaveLength(1);
  });
});
