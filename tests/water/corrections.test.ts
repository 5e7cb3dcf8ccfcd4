import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { Refusal } from '../../src/platform/refusal.ts';
import { convertDifference } from '../../src/science/units.ts';
import {
  type NewCorrection,
  planCorrection,
  stopCorrection,
} from '../../src/water/corrections/corrections.ts';
import { readCorrections } from '../../src/water/corrections/load.ts';
import { currentHold } from '../../src/water/corrections/state.ts';
import { doCorrectionStep, leaveOutCorrectionStep } from '../../src/water/corrections/steps.ts';
import { correctionTasks } from '../../src/water/corrections/tasks.ts';
import { addDose } from '../../src/water/log/doses.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

let bench: Bench;
beforeAll(async () => {
  bench = await startBench({ watching: false });
});
afterAll(() => bench.close());

const dKH = (rise: number) => convertDifference('alkalinity', rise, 'dKH', 'meq/L', 3);

const asked = (systemId: string, more: Partial<NewCorrection> = {}): NewCorrection => ({
  systemId,
  quantityCode: 'alkalinity',
  means: 'sodium-bicarbonate',
  stated: { purity: 1, solution: null, limewater: null, makeUp: null },
  target: dKH(8.4),
  dailyCap: dKH(1),
  startsOn: '2026-11-24',
  reason: '',
  capReason: '',
  seen: null,
  revises: null,
  ...more,
});

/** A system that read 6.9 dKH twice this morning. */
async function lowSystem(name: string): Promise<string> {
  const systemId = await makeSystem(bench, name);
  bench.at('2026-11-24T09:00Z');
  await read(bench, systemId, '2026-11-23T08:00Z', 'alkalinity', '8.4');
  await read(bench, systemId, '2026-11-24T07:00Z', 'alkalinity', '6.9');
  await read(bench, systemId, '2026-11-24T07:30Z', 'alkalinity', '6.9');
  return systemId;
}

const plan = (systemId: string, more: Partial<NewCorrection> = {}) =>
  bench.change((work) => planCorrection(work, asked(systemId, more)));
const stateOf = async (id: string) => {
  const [state] = await readCorrections(bench.service.pool, { id }, bench.service.now());
  if (state === undefined) throw new Error('no such correction');
  return state;
};
const step = async (id: string, position: number) => (await stateOf(id)).steps[position - 1]?.id ?? '';
const doStep = async (id: string, position: number) => {
  const stepId = await step(id, position);
  return bench.change((work) => doCorrectionStep(work, { stepId, at: work.now, note: '' }));
};
const heldWords = async (id: string) => currentHold(await stateOf(id), bench.service.now())?.words ?? null;
const refusalOf = (promise: Promise<unknown>): Promise<string> =>
  promise.then(
    () => 'it was done',
    (error: unknown) => (error instanceof Refusal ? error.message : `not a refusal: ${String(error)}`),
  );

/** What stands in an input of a page. */
const inputValue = (page: string, name: string): string =>
  new RegExp(`<input[^>]*name="${name}"[^>]*value="([^"]*)"`).exec(page)?.[1] ?? '';

describe('planning', () => {
  test('is based on confirmed readings only, and says what would confirm', async () => {
    const systemId = await makeSystem(bench, 'Not confirmed');
    bench.at('2026-11-24T09:00Z');
    await read(bench, systemId, '2026-11-23T08:00Z', 'alkalinity', '8.4');
    await read(bench, systemId, '2026-11-24T07:00Z', 'alkalinity', '6.9');
    expect(await refusalOf(plan(systemId))).toContain('waits for a second reading');
    const calm = await makeSystem(bench, 'Read once');
    await read(bench, calm, '2026-11-24T07:00Z', 'alkalinity', '7.7');
    expect(await refusalOf(plan(calm))).toContain('stands on one test of that day. Repeat the test now');
    await read(bench, calm, '2026-11-24T07:30Z', 'alkalinity', '7.7');
    await expect(plan(calm)).resolves.toHaveProperty('id');
  });

  test('makes two steps of 1.5 dKH in 1,000 L, with a test before the second', async () => {
    const systemId = await lowSystem('Two steps');
    const { id } = await plan(systemId);
    const state = await stateOf(id);
    expect(state.steps.map(({ amount, unit, retest, dueOn }) => [amount, unit, retest, dueOn])).toEqual([
      [22.5, 'g', false, '2026-11-24'],
      [22.4, 'g', true, '2026-11-25'],
    ]);
    expect(state.capSource).toContain('Common practice: at most 1 dKH a day');
  });

  test('of a second one for the same quantity is refused, and one of two at once wins', async () => {
    const systemId = await lowSystem('At once');
    const results = await Promise.allSettled([plan(systemId), plan(systemId)]);
    expect(results.map((one) => one.status).sort()).toEqual(['fulfilled', 'rejected']);
    expect(await refusalOf(plan(systemId))).toContain('already runs in this system');
  });

  test('of more than the usual a day wants a reason, and amounts that changed since are looked at again', async () => {
    const systemId = await lowSystem('Reasons');
    expect(await refusalOf(plan(systemId, { dailyCap: dKH(1.4) }))).toContain('Say why');
    expect(await refusalOf(plan(systemId, { seen: '1 2' }))).toContain('amounts have changed');
    await expect(plan(systemId, { dailyCap: dKH(1.4), capReason: 'frags only' })).resolves.toHaveProperty(
      'id',
    );
  });

  test('on a kit that is said to read wrong is refused', async () => {
    const systemId = await makeSystem(bench, 'Biased');
    const { db } = bench.service;
    const method = await db.method.findFirstOrThrow({
      where: { quantityCode: 'alkalinity', isDefault: true },
    });
    const kit = await db.kit.create({
      data: { methodId: method.id, label: 'Old bottle', openedAt: new Date('2026-11-01') },
    });
    bench.at('2026-11-24T09:00Z');
    await read(bench, systemId, '2026-11-24T07:00Z', 'alkalinity', '7.7', { kitId: kit.id });
    await read(bench, systemId, '2026-11-24T07:30Z', 'alkalinity', '7.7', { kitId: kit.id });
    await db.alert.create({
      data: {
        rule: 'kit-biased',
        subjectType: 'kit',
        subjectId: kit.id,
        systemId,
        severity: 'today',
        title: 'Old bottle: the kit reads low',
        finding: {},
        worst: 1,
        openedAt: bench.service.now(),
        evaluatedAt: bench.service.now(),
      },
    });
    expect(await refusalOf(plan(systemId))).toContain('named or suspected of reading wrong');
  });
});

describe('a step', () => {
  test('may be the last one: the page then shows what is left to do, with every step left out or done', async () => {
    const systemId = await lowSystem('Sold out or lost');
    const { id } = await plan(systemId);
    const manager = await bench.as('manager');
    const leave = async (position: number) => {
      const { version, steps } = await stateOf(id);
      const stepId = steps[position - 1]?.id ?? '';
      return bench.change((work) => leaveOutCorrectionStep(work, { stepId, version, reason: 'not needed' }));
    };
    for (const position of [1, 2]) {
      await leave(position);
      expect((await manager.get(`/water/corrections/${id}`)).status).toBe(200);
    }
    const again = { step: await step(id, 2), version: '0', omission: 'again' };
    expect((await manager.post(`/water/corrections/${id}/omission`, again)).status).toBe(409);
  });

  test('logs its dose and marks itself done in one change, once', async () => {
    const systemId = await lowSystem('One step');
    const { id } = await plan(systemId);
    const stepId = await step(id, 1);
    const twice = await Promise.allSettled([doStep(id, 1), doStep(id, 1)]);
    expect(twice.map((one) => one.status).sort()).toEqual(['fulfilled', 'rejected']);
    const doses = await bench.service.db.dose.findMany({ where: { systemId }, include: { step: true } });
    expect(doses).toHaveLength(1);
    expect(doses[0]).toMatchObject({
      substance: 'sodium bicarbonate',
      amount: 22.5,
      quantityCode: 'alkalinity',
    });
    expect(doses[0]?.step?.id).toBe(stepId);
    expect(doses[0]?.effect).toBeCloseTo(dKH(0.75), 2);
    expect(await refusalOf(doStep(id, 1))).toContain('already done');
  });

  test('is not followed by another within a day, nor before the test asked for', async () => {
    const systemId = await lowSystem('Too soon');
    const { id } = await plan(systemId);
    await doStep(id, 1);
    bench.at('2026-11-24T12:00Z');
    expect(await heldWords(id)).toBeNull();
    expect(await refusalOf(doStep(id, 2))).toContain('less than a day ago');
    bench.at('2026-11-25T08:00Z');
    expect(await heldWords(id)).toContain('Test alkalinity first');
    expect(await refusalOf(doStep(id, 2))).toContain('Held back: Test alkalinity first');
    await read(bench, systemId, '2026-11-25T07:45Z', 'alkalinity', '7.6');
    expect(await heldWords(id)).toBeNull();
    await doStep(id, 2);
    expect((await stateOf(id)).steps.every((one) => one.doneAt !== null)).toBe(true);
  });

  test('is held back by one departing test only to test again, and to revise once a second agrees', async () => {
    const systemId = await lowSystem('Departs');
    const { id } = await plan(systemId);
    await doStep(id, 1);
    bench.at('2026-11-25T09:00Z');
    await read(bench, systemId, '2026-11-25T07:00Z', 'alkalinity', '9.8');
    expect(await heldWords(id)).toMatch(/^Test alkalinity again/);
    await read(bench, systemId, '2026-11-25T07:20Z', 'alkalinity', '9.8');
    expect(await heldWords(id)).toContain('Revise from this reading, or stop');
  });

  test('is held back after a dose that nobody planned, until a test has seen it', async () => {
    const systemId = await lowSystem('Outside');
    const { id } = await plan(systemId, { target: dKH(9) });
    await doStep(id, 1);
    bench.at('2026-11-25T09:00Z');
    await read(bench, systemId, '2026-11-25T06:00Z', 'alkalinity', '7.6');
    const more = {
      substance: 'sodium bicarbonate',
      amount: 20,
      unit: 'g' as const,
      quantityCode: '',
      rise: null,
      note: '',
    };
    await bench.change((work) => addDose(work, systemId, { ...more, at: new Date('2026-11-25T07:00Z') }));
    expect(await heldWords(id)).toContain('outside of this correction');
  });

  test('can be left out with a reason, and stays so', async () => {
    const systemId = await lowSystem('Left out');
    const { id } = await plan(systemId);
    const stepId = await step(id, 1);
    const { version } = await stateOf(id);
    const leave = (seen: number) =>
      bench.change((work) =>
        leaveOutCorrectionStep(work, { stepId, version: seen, reason: 'heater failed' }),
      );
    expect(await refusalOf(leave(version + 1))).toContain('changed this correction');
    await leave(version);
    expect(await refusalOf(doStep(id, 1))).toContain('left out');
    const raw = bench.service.pool.query('UPDATE correction_step SET left_out_at = NULL WHERE id = $1', [
      stepId,
    ]);
    await expect(raw).rejects.toThrow('correction_step_kept');
  });
});

describe('from an acute level', () => {
  test('the first steps come within hours, each after its test, on the page and on the round', async () => {
    const systemId = await makeSystem(bench, 'Acute');
    bench.at('2026-11-24T09:00Z');
    await read(bench, systemId, '2026-11-24T08:00Z', 'alkalinity', '5.0');
    await read(bench, systemId, '2026-11-24T08:30Z', 'alkalinity', '5.0');
    const { id } = await plan(systemId);
    const { steps } = await stateOf(id);
    expect(steps.slice(0, 5).map(({ dueOn, afterHours }) => [dueOn, afterHours])).toEqual([
      ['2026-11-24', null],
      ['2026-11-24', 2],
      ['2026-11-24', 2],
      ['2026-11-24', 2],
      ['2026-11-25', null],
    ]);
    const page = (await (await bench.as('manager')).get(`/water/corrections/${id}`)).body;
    expect(page).toContain('2 hours after the one before');
    for (const [position, tested, now, value] of [
      [1, null, '2026-11-24T09:00Z', ''],
      [2, '2026-11-24T10:55Z', '2026-11-24T11:00Z', '5.5'],
      [3, '2026-11-24T12:55Z', '2026-11-24T13:00Z', '6.0'],
      [4, '2026-11-24T14:55Z', '2026-11-24T15:00Z', '6.5'],
    ] as const) {
      bench.at(now);
      if (tested !== null) {
        expect(await heldWords(id)).toContain('Test alkalinity first');
        await read(bench, systemId, tested, 'alkalinity', value);
      }
      await doStep(id, position);
      expect(await refusalOf(doStep(id, position + 1))).toMatch(
        position === 4 ? /less than a day ago/ : /Wait 120 minutes more, and test before it/,
      );
      const tasks = await correctionTasks(bench.service.pool, [systemId], bench.service.now());
      if (position < 4) expect(tasks.at(-1)?.detail).toContain('2 hours after the one before.');
    }
  });
});

describe('the end', () => {
  test('comes by itself when a retest meets the target', async () => {
    const systemId = await lowSystem('Met');
    const { id } = await plan(systemId);
    await doStep(id, 1);
    bench.at('2026-11-25T08:00Z');
    await read(bench, systemId, '2026-11-25T07:30Z', 'alkalinity', '7.6');
    await doStep(id, 2);
    expect((await stateOf(id)).finishedAt).toBeNull();
    bench.at('2026-11-26T08:00Z');
    await read(bench, systemId, '2026-11-26T07:30Z', 'alkalinity', '8.3');
    expect((await stateOf(id)).finishedAt).toEqual(new Date('2026-11-26T08:00Z'));
    const lines = await bench.service.db.journalLine.findMany({
      where: { subjectId: id },
      orderBy: [{ at: 'asc' }, { id: 'asc' }],
    });
    expect(lines.map((line) => line.kind)).toEqual([
      'correction.planned',
      'correction.step_done',
      'correction.step_done',
      'correction.finished',
    ]);
  });

  test('comes with a stop, whose reason stays, or with a revision that names the old one', async () => {
    const systemId = await lowSystem('Revised');
    const { id } = await plan(systemId);
    await doStep(id, 1);
    bench.at('2026-11-25T09:00Z');
    await read(bench, systemId, '2026-11-25T07:00Z', 'alkalinity', '7.2');
    await read(bench, systemId, '2026-11-25T07:20Z', 'alkalinity', '7.2');
    const { version } = await stateOf(id);
    const { id: next } = await plan(systemId, {
      startsOn: '2026-11-25',
      revises: { id, version },
      reason: 'lower than thought',
    });
    expect(await stateOf(id)).toMatchObject({
      stopReason: 'Revised: lower than thought.',
      revisedById: next,
    });
    const stop = (seen: number) =>
      bench.change((work) => stopCorrection(work, { id: next, version: seen, reason: 'steady enough' }));
    await stop((await stateOf(next)).version);
    expect(await refusalOf(stop(1))).toContain('ended already');
    expect(await refusalOf(doStep(next, 1))).toContain('has ended');
  });
});

describe("the day's work", () => {
  test('holds the step that is due with its cautions, then the test that the next one waits for', async () => {
    const systemId = await lowSystem('Tasks');
    const { id } = await plan(systemId);
    const tasks = () => correctionTasks(bench.service.pool, [systemId], bench.service.now());
    const [due] = await tasks();
    expect(due).toMatchObject({
      work: 'correction',
      title: 'Add 22.5 g of sodium bicarbonate',
      held: null,
      done: false,
      dueOn: '2026-11-24',
    });
    expect(due?.cautions.join(' ')).toContain('Gloves and eye protection');
    await doStep(id, 1);
    expect((await tasks()).map(({ done, held }) => [done, held])).toEqual([[true, null]]);
    bench.at('2026-11-26T08:00Z');
    const later = await tasks();
    expect(later.map(({ work, overdueDays }) => [work, overdueDays])).toEqual([
      ['test', 1],
      ['correction', 1],
    ]);
    expect(later[1]?.held).toContain('Test alkalinity first');
  });
});

describe('the pages and the JSON', () => {
  test('let a manager look and plan, show a hand the plan, and say what is missing beside its field', async () => {
    const systemId = await lowSystem('By JSON');
    const [manager, hand] = [await bench.as('manager'), await bench.as('hand')];
    const wish = { quantityCode: 'alkalinity', means: 'solution', target: '8,4', startsOn: '2026-11-24' };
    const url = `/api/systems/${systemId}/corrections`;
    expect((await hand.send(url, wish)).status).toBe(403);
    const refused = await manager.send(url, wish);
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('solutionDose');
    const whole = { ...wish, solutionName: 'soda', solutionDose: 27, solutionPer: 1000, solutionRise: '0.1' };
    const planned = await manager.send(url, whole);
    expect(planned.status).toBe(201);
    const { id } = planned.json() as { id: string };
    const told = (await hand.get(`/api/corrections/${id}`, {})).json();
    expect(told).toMatchObject({ quantityCode: 'alkalinity', running: true, held: null, unit: 'meq/L' });
    const page = (await hand.get(`/water/corrections/${id}`)).body;
    expect(page).toContain('of soda');
    expect(page).not.toContain('Revise it');
    expect((await hand.get(`/water/systems/${systemId}/corrections`)).body).toContain(
      'running, 0 of 2 steps done',
    );
  });

  test('take what a label and the water say in the units of whoever plans', async () => {
    const systemId = await lowSystem('In gallons');
    const [manager, west] = [await bench.as('manager'), await bench.as('manager', 'West')];
    const units = { volume: 'gal (US)', length: 'in', mass: 'oz', temperature: 'degF' };
    await west.post('/account/units', { ...units, alkalinity: '', salinity: '' });
    const ask = async (visitor: Visitor, means: string, more: string) => {
      const wish = `quantity=alkalinity&means=${means}&show=yes&target=8.4&startsOn=2026-11-24&${more}`;
      const { status, body } = await visitor.get(`/water/systems/${systemId}/corrections/new?${wish}`);
      expect(status, body).toBe(200);
      return body;
    };
    const soda = 'solutionName=soda&solutionDose=27&solutionRise=0.1';
    const amounts = (body: string) => [...body.matchAll(/[\d,.]+ mL/g)].map(([words]) => words);
    // A US gallon is 3.785411784 L (NIST Handbook 44, appendix C).
    const [theirs, ours] = [
      await ask(west, 'solution', `${soda}&solutionPer=1000`),
      await ask(manager, 'solution', `${soda}&solutionPer=3785.411784`),
    ];
    expect(theirs).toContain('US gal of water');
    expect(amounts(ours).length).toBeGreaterThan(0);
    expect(amounts(theirs)).toEqual(amounts(ours));
    const limewater = await ask(west, 'saturated-limewater', 'evaporation=10&limeTemperature=25');
    expect(limewater).toContain('from 41 to 104 °F');
    expect(await ask(west, 'saturated-limewater', 'evaporation=10')).toContain('value="77"');
  });

  test('of a step whose day has not come offer no button to do it', async () => {
    const systemId = await lowSystem('Tomorrow');
    const { id } = await plan(systemId, { startsOn: '2026-11-25' });
    const hand = await bench.as('hand', 'Early Hand');
    expect((await hand.get(`/water/corrections/${id}`)).body).not.toContain('>Done: ');
    expect(await refusalOf(doStep(id, 1))).toContain('It is due on 2026-11-25');
  });

  test('say how long waiting takes where the level is too high', async () => {
    const systemId = await makeSystem(bench, 'Too high');
    bench.at('2026-11-24T09:00Z');
    for (const [day, dKHs] of [
      ['14', 9.9],
      ['16', 9.7],
      ['18', 9.5],
      ['20', 9.3],
      ['22', 9.1],
      ['24', 8.9],
    ] as const)
      await read(bench, systemId, `2026-11-${day}T07:00Z`, 'alkalinity', String(dKHs));
    const hand = await bench.as('hand', 'Patient Hand');
    const address = `/water/systems/${systemId}/corrections/new?quantity=alkalinity&means=sodium-bicarbonate&show=yes&target=8.4&startsOn=2026-11-24`;
    const page = (await hand.get(address)).body;
    expect(page).toContain('Nothing that is added lowers it');
    expect(page).toContain('By itself it falls 0.1 dKH a day');
  });

  test('fill the target of a revision so that it is read back as the same level, thousands and all', async () => {
    const systemId = await makeSystem(bench, 'Low magnesium');
    bench.at('2026-11-24T09:00Z');
    for (const time of ['07:00', '07:30'])
      await read(bench, systemId, `2026-11-24T${time}Z`, 'magnesium', '1250');
    const magnesium = { quantityCode: 'magnesium', means: 'magnesium-chloride-hexahydrate', target: 1350 };
    const { id } = await plan(systemId, { ...magnesium, dailyCap: 50 } as Partial<NewCorrection>);
    const manager = await bench.as('manager', 'Revising Manager');
    const base = `/water/systems/${systemId}/corrections`;
    const address = `${base}/new?quantity=magnesium&means=${magnesium.means}&revises=${id}`;
    const target = inputValue((await manager.get(address)).body, 'target');
    const preview = (await manager.get(`${address}&show=yes&target=${encodeURIComponent(target)}`)).body;
    const form = { quantity: 'magnesium', means: magnesium.means, target, revises: id, revisesVersion: 1 };
    const sent = await manager.post(base, { ...form, seen: inputValue(preview, 'seen') });
    expect(sent.status).toBe(303);
    expect((await stateOf(sent.location?.split('/').at(-1) ?? '')).target).toBeCloseTo(1350, 6);
  });
});
