import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type DemoBench, demoNow, startDemoBench } from '../support/demo-bench.ts';
import { type Said, saidInHtml, saidInJson, twice, unmarked } from '../support/figures.ts';
import type { Visitor } from '../support/service.ts';

// A figure of one thing has one value on every page, in every file and by every interface that says it.

describe('on the demo farm', () => {
  let bench: DemoBench;
  let manager: Visitor;
  const said: Said[] = [];
  const bodies: { where: string; body: string }[] = [];

  beforeAll(async () => {
    bench = await startDemoBench();
    await evaluateSystems(bench.service, 'all', demoNow);
    manager = await bench.as('manager');
    const systems = await bench.service.db.system.findMany({ where: { retiredAt: null } });
    const alerts = await bench.service.db.alert.findMany({
      where: { clearedAt: null, rule: { startsWith: 'nitrate' } },
    });
    const pages = [
      '/',
      '/watch',
      '/water',
      '/digest',
      ...alerts.map(({ id }) => `/watch/${id}`),
      ...systems.flatMap(({ id }) => [
        `/water/systems/${id}`,
        `/water/systems/${id}?quantity=nitrate`,
        `/water/systems/${id}/routines`,
        ...['nitrate', 'phosphate'].map((code) => `/water/systems/${id}/nutrients?quantity=${code}`),
        ...['alkalinity', 'calcium', 'magnesium', 'nitrate', 'phosphate'].map(
          (code) => `/water/systems/${id}/demand?quantity=${code}`,
        ),
      ]),
    ];
    for (const where of pages) {
      const { body } = await manager.get(where);
      bodies.push({ where, body });
      said.push(...saidInHtml(body, where));
    }
    const interfaces = ['/api/alerts', ...systems.map(({ id }) => `/api/systems/${id}/demand`)];
    for (const where of interfaces) {
      const { body } = await manager.get(where);
      said.push(...saidInJson(JSON.parse(body), where));
    }
  }, 240_000);
  afterAll(() => bench.close());

  test('a figure of one thing has one value wherever it is said', () => {
    expect(twice(said)).toEqual([]);
    const placesOf = (name: string) =>
      new Set(said.filter((one) => one.name === name).map(({ where }) => where)).size;
    for (const name of [
      'nitrate.level',
      'nitrate.production',
      'nitrate.settles',
      'nitrate.plan',
      'water.exchange',
    ])
      expect(placesOf(name), name).toBeGreaterThan(2);
  });

  test('no page says such a figure without its mark', () => {
    expect(bodies.flatMap(({ where, body }) => unmarked(body).map((words) => `${where}: ${words}`))).toEqual(
      [],
    );
  });

  test('a difference would be found, and a sentence without its mark', () => {
    const [one] = said;
    if (one === undefined) throw new Error('nothing is said');
    expect(twice([...said, { ...one, value: `${one.value}1`, where: 'planted' }])).toHaveLength(1);
    expect(unmarked('<p>With the changes of late it tends to 18.7 mg/L as NO₃.</p>')).toEqual([
      'tends to 18.7',
    ]);
  });
});
