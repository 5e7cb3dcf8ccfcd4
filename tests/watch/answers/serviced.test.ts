import { afterAll, beforeAll, expect, test } from 'vitest';
import { actionsSince } from '../../../src/watch/answers/actions.ts';
import { layGround } from '../../farm/ground.ts';
import { type Bench, benchNow, startBench } from '../../support/service.ts';

let bench: Bench;
beforeAll(async () => {
  bench = await startBench({ watching: false, care: true });
});
afterAll(() => bench.close());

test('a serviced doser says what it raises, and nobody knows what where the water has two and the books are silent', async () => {
  const { db, pool } = bench.service;
  const { systemId } = await layGround(bench);
  const doser = (name: string, more: object = {}) =>
    db.equipment.create({ data: { systemId, kind: 'doser', name, ...more } });
  const service = (equipmentId: string, minute: number) =>
    db.upkeep.create({
      data: { equipmentId, work: 'service', at: new Date(benchNow.getTime() - 3_600_000 + minute * 60_000) },
    });
  const contents = async () =>
    (await actionsSince(pool, { systemId, since: new Date(0), now: benchNow }))
      .filter(({ kind }) => kind === 'serviced')
      .map((action) => action.contents);
  const only = await doser('Left');
  await service(only.id, 0);
  expect(await contents()).toEqual([{}]);
  const known = await doser('Right', { strengthCode: 'alkalinity', strength: 1000 });
  await service(known.id, 1);
  expect(await contents()).toEqual([null, { alkalinity: 1000 }]);
});
