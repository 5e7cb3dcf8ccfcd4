import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { libraryKinds } from '../../seed/library.ts';
import { type Care, kindCare, lotCare } from '../../src/stock/kinds/care.ts';
import { type Bench, startBench } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

describe('the care of kinds and lots', () => {
  let bench: Bench;
  let shelf: Shelf;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
  });
  afterAll(() => bench.close());

  test('is, for every taxon, the same as the care library computes', async () => {
    const kinds = await kindCare(bench.service.pool);
    for (const { code, care } of libraryKinds()) {
      const resolved = kinds.get(await shelf.kind(code)) as Care;
      expect(Object.keys(resolved).sort(), code).toEqual(Object.keys(care).sort());
      for (const [figure, { low = null, high = null, words = null, basis }] of Object.entries(care)) {
        expect(resolved[figure], `${code} ${figure}`).toMatchObject({ low, high, words, basis });
      }
    }
  });

  test('says of each figure whose it is: the lot over the taxon over the group', async () => {
    const kindId = await shelf.kind('parazoanthus-gracilis');
    const lot = await shelf.lot({ kindId });
    const other = await shelf.lot({ kindId });
    await bench.service.db.careFigure.create({
      data: { lotId: lot.id, figure: 'par_ceiling', high: 120, basis: 'own_choice', source: 'Paled at 140' },
    });
    const care = await lotCare(bench.service.pool, { lotIds: [lot.id, other.id] });
    expect(care.get(lot.id)?.par_ceiling).toMatchObject({ high: 120, from: 'lot', source: 'Paled at 140' });
    expect(care.get(lot.id)?.feeding_every_days).toMatchObject({ high: 4, from: 'taxon' });
    expect(care.get(lot.id)?.caution).toMatchObject({ from: 'group' });
    expect(care.get(other.id)?.par_ceiling).toMatchObject({ from: 'group' });
  });

  test('is given for the lots that stand in a system', async () => {
    const here = await shelf.lot({ slotIds: [shelf.slot('A1')] });
    const nowhere = await shelf.lot();
    const care = await lotCare(bench.service.pool, { systemId: shelf.systemId });
    expect([...care.keys()]).toEqual([here.id]);
    expect((await lotCare(bench.service.pool)).has(nowhere.id)).toBe(true);
  });
});
