import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { addDose, type DoseInput } from '../../src/water/log/doses.ts';
import { withoutMarks } from '../support/figures.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

let bench: Bench;
let manager: Visitor;
const now = '2026-11-24T08:00:00Z';
const daysAgo = (days: number, hour = 7) =>
  new Date(Date.parse(now) - days * 86_400_000 + (hour - 8) * 3_600_000).toISOString();

beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager', 'Ada');
});
afterAll(() => bench.close());

const textOf = async (url: string) =>
  withoutMarks((await manager.get(url)).body)
    .replace(/<[^>]+>/g, ' ')
    .replace(/\s+/g, ' ');

const dose = (systemId: string, input: Partial<DoseInput>) =>
  bench.change((work) =>
    addDose(work, systemId, {
      ...{ substance: 'alk part', amount: 120, unit: 'mL', quantityCode: '', rise: null, note: '' },
      ...{ at: new Date(daysAgo(1, 9)), reason: 'For this test' },
      ...input,
    }),
  );

/** A system with a test every second day, and a daily dose of a product of which nobody has said what it raises. */
async function dosedSystem(name: string, levelOn: (day: number) => string): Promise<string> {
  const systemId = await makeSystem(bench, name);
  for (const day of [12, 10, 8, 6, 4, 2, 0])
    await read(bench, systemId, daysAgo(day), 'alkalinity', levelOn(day));
  for (let day = 13; day > 0; day -= 1) await dose(systemId, { at: new Date(daysAgo(day, 9)) });
  return systemId;
}

describe('a product that is dosed daily, of which nobody has said what it raises', () => {
  test('may be what holds a steady level: nothing is said of the use, and nobody is told to stop', async () => {
    const systemId = await dosedSystem('Steady', () => '8.0');
    const page = await textOf(`/water/systems/${systemId}/demand`);
    expect(page).not.toContain('No dosing needed');
    expect(page).not.toContain('no use measurable');
    expect(page).not.toMatch(/dKH are used/);
    expect(page).toContain('use is not known');
    expect(page).toContain('Stop nothing on these figures');
    expect(page).toContain('it may be what holds the level. Go on dosing as you do');
    expect(page).toMatch(/Dosed a day not known: 12 doses of “alk part” are not in it/);
    expect(page).toContain('Fall of alkalinity a day, use not known');
    const correction = await textOf(`/water/systems/${systemId}/corrections/new?quantity=alkalinity`);
    expect(correction).not.toContain('By itself');
    expect(await textOf(`/water/systems/${systemId}`)).toMatch(
      /0 doses of it were logged, and 13 doses of what nobody has said the effect of/,
    );
  });

  test('is named where the level stands above its band, and neither page says to stop what the other says to go on with', async () => {
    const systemId = await dosedSystem('High', (day) => String(10.6 - day * 0.05));
    // 7.5 to 9.0 dKH in meq/L: 1 dKH is 0.357 meq/L.
    await bench.service.db.systemQuantity.upsert({
      where: { systemId_quantityCode: { systemId, quantityCode: 'alkalinity' } },
      create: { systemId, quantityCode: 'alkalinity', bandLow: 2.68, bandHigh: 3.21 },
      update: { bandLow: 2.68, bandHigh: 3.21 },
    });
    await evaluateSystems(bench.service, 'all', bench.service.now());
    const { siteId } = await bench.service.db.system.findUniqueOrThrow({ where: { id: systemId } });
    const alerts = await openAlerts(bench.service.pool, { siteId });
    const high = alerts.find((one) => one.systemId === systemId && one.rule === 'out-of-band');
    const steps = await textOf(`/watch/${high?.id}`);
    expect(steps).toContain('13 doses of “alk part” are logged, and nobody has said what it raises');
    expect(steps).not.toContain('No dose of it is logged');
    expect(steps).not.toContain('Stop any dose');
    expect(steps).toContain('stop none on a guess');
    expect(await textOf(`/water/systems/${systemId}/demand`)).toContain('Stop nothing on these figures');
  });

  test('is known for all its doses once it is said with one of them', async () => {
    const systemId = await dosedSystem('Said', () => '8.0');
    expect(await textOf('/')).toMatch(
      /What is dosed in [^.]*Said[^.]* is not fully known: say what each product raises/,
    );
    const form = {
      substance: 'Alk part',
      amount: '0.12',
      unit: 'L',
      quantityCode: 'alkalinity',
      rise: '0.5',
    };
    const answer = await manager.post(`/water/systems/${systemId}/doses`, {
      ...{ ...form, at: '2026-11-24T07:30', note: '', reason: 'For this test', earlierToo: 'yes' },
    });
    expect(answer.status, answer.body).toBe(303);
    const page = await textOf(`/water/systems/${systemId}/demand`);
    expect(page).toContain('used 0.50 dKH a day (');
    expect(page).not.toContain('Stop nothing on these figures');
    expect(await textOf(`/water/systems/${systemId}/doses`)).not.toContain('what it raises is not known');
  });

  test('is named beside a use that is measured without it', async () => {
    const systemId = await dosedSystem('Falling', (day) => String(7.4 + day * 0.1));
    const page = await textOf(`/water/systems/${systemId}/demand`);
    expect(page).toMatch(/used 0\.\d\d dKH a day \([^)]*\), “alk part” not counted/);
    expect(page).toMatch(/a day \([^)]*\) beside “alk part”, of which nobody has said what it raises/);
  });
});
