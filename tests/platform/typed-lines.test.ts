import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { type Bench, startBench } from '../support/service.ts';

describe('a note of several lines', () => {
  let bench: Bench;
  let hall: Hall;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    hall = await makeHall(bench);
  });
  afterAll(() => bench.close());

  test('comes back line by line, however deep in the page its field stands', async () => {
    const manager = await bench.as('manager');
    const note = 'Came with a crab\n  two arms\nput apart';
    await bench.service.db.lot.update({ where: { id: hall.lots.A1.id }, data: { note } });
    const { body } = await manager.get(`/stock/${hall.lots.A1.code}/details`);
    expect(/<textarea id="note"[^>]*>\n([^<]*)<\/textarea>/.exec(body)?.[1]).toBe(note);
  });
});
