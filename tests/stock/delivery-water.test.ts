import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

let bench: Bench;
let shelf: Shelf;
let hand: Visitor;
let tank: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  shelf = await makeShelf(bench);
  const { db } = bench.service;
  const { systemId } = shelf;
  ({ id: tank } = await db.tank.findFirstOrThrow({ where: { systemId } }));
  await db.tank.update({ where: { id: tank }, data: { quarantine: true } });
  const value = { value: 26, uncertainty: 0.1, enteredText: '26', enteredUnit: 'degC' };
  await db.reading.create({
    data: { systemId, quantityCode: 'temperature', at: new Date(benchNow.getTime() - 3_600_000), ...value },
  });
  hand = await bench.as('hand', 'Nela Brandt');
});
afterAll(() => bench.close());

const send = (fields: Record<string, string>) =>
  hand.post('/stock/deliveries', {
    ...{ supplier: 'Angra nursery', lines: '1', tank, purpose: 'observe', note: '', light_1: 'unknown' },
    ...{ kind_1: 'Acropora tenuis', counted_1: '2', ...fields },
  });

describe('a delivery into water that speaks against it', () => {
  test('asks where the box and the water are five degrees apart, and keeps what was typed', async () => {
    const asked = await send({ boxDegC: '21' });
    expect(asked.status).toBe(409);
    expect(asked.body).toMatch(/The box has 21\.0.°C and the water of .* 26\.0.°C: float the closed bags/);
    expect(asked.body).toContain('Why it goes into this water');
    expect(asked.body).toContain('value="Angra nursery"');
    expect(await bench.service.db.delivery.count()).toBe(0);
    expect((await send({ boxDegC: '21.5' })).status).toBe(303);
    expect((await send({ boxDegC: '21', despite: 'floated for an hour' })).status).toBe(303);
  });

  test('asks where the water is under watch for a pest, and keeps why it goes there', async () => {
    const { db } = bench.service;
    const watch = { systemId: shelf.systemId, pest: 'acropora_flatworm', openedAt: benchNow };
    await db.pestWatch.create({ data: watch });
    const asked = await send({});
    expect(asked.status).toBe(409);
    expect(asked.body).toContain('is under watch for');
    expect((await send({ despite: 'no other tank' })).status).toBe(303);
    const lines = await db.journalLine.findMany({ where: { kind: 'delivery.received' } });
    expect(JSON.stringify(lines.map(({ detail }) => detail))).toContain('no other tank');
  });

  test('asks of a salinity that looks like a specific gravity', async () => {
    const asked = await send({ boxSalinity: '1.025' });
    expect(asked.status).toBe(422);
    expect(asked.body).toContain('1.025 looks like a specific gravity');
  });
});
