import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { addWaterChange } from '../../src/water/log/water-changes.ts';
import { withoutMarks } from '../support/figures.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

/** Nitrate climbs under a planned change of 10 % a week; the page plans larger ones. */
describe('from the plan for nitrate to the routine', () => {
  let bench: Bench;
  let manager: Visitor;
  let hand: Visitor;
  let systemId: string;
  const daysAgo = (days: number) => new Date(Date.parse('2026-11-24T07:00:00Z') - days * 86_400_000);
  const list = () => `/water/systems/${systemId}/routines`;
  const weekly = { work: 'water_change', volume: '10', volumeUnit: '%', everyDays: '7' };
  const levels: readonly [number, string][] = [
    [28, '24'],
    [21, '26.8'],
    [14, '26.9'],
    [7, '27.1'],
    [0, '27.1'],
  ];

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    systemId = await makeSystem(bench);
    [manager, hand] = [await bench.as('manager'), await bench.as('hand')];
    for (const [day, text] of levels)
      await read(bench, systemId, daysAgo(day).toISOString(), 'nitrate', text);
    for (const day of [20, 13, 6])
      await bench.change((work) =>
        addWaterChange(work, systemId, { amount: 10, unit: '%', at: daysAgo(day), note: '' }),
      );
    await manager.post(list(), weekly);
  });
  afterAll(() => bench.close());

  test('one tap leads to the routine that is planned, both amounts said, the new one filled in', async () => {
    const { body } = await manager.get(`/water/systems/${systemId}/nutrients?quantity=nitrate`);
    const link =
      /href="([^"]+routines\/new[^"]+)">Change the routine from 10 % \(100 L\) every week to (\d+) % \(/.exec(
        body,
      );
    expect(link).not.toBeNull();
    const to = await manager.get((link?.[1] ?? '').replaceAll('&amp;', '&').replaceAll('&#x3D;', '='));
    expect(to.status).toBe(303);
    const form = await manager.get(String(to.headers.location));
    expect(form.body).toContain('Planned now: 100 L (10 %) every week.');
    expect(form.body).toMatch(new RegExp(`name="volume"[^>]*value="${link?.[2]}"`));
    const version = /name="version" value="(\d+)"/.exec(form.body)?.[1] ?? '';
    const saved = { ...weekly, volume: link?.[2] ?? '', version };
    expect((await manager.post(String(to.headers.location).split('?')[0] ?? '', saved)).status).toBe(303);
    expect((await manager.get(list())).body).toContain(`Change ${10 * Number(link?.[2])} L of water`);
  });

  test('a second plan of the kind names the one there is and leads to it', async () => {
    const twice = await manager.post(list(), { ...weekly, volume: '22' });
    expect(twice.status).toBe(409);
    expect(twice.body).toMatch(/Planned already:.*<a href="\/water\/routines\/[^"]+volume&#x3D;22/s);
  });

  test('a hand reads what to ask for', async () => {
    const { body } = await hand.get(`/water/systems/${systemId}/nutrients?quantity=nitrate`);
    expect(withoutMarks(body)).toMatch(/Ask a manager to change the routine from |The routine has it/);
  });
});
