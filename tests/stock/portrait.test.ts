import { afterAll, beforeAll, expect, test } from 'vitest';
import { countLot } from '../../src/stock/lots/ledger.ts';
import { holdPieces } from '../../src/stock/orders/single.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

let bench: Bench;
let shelf: Shelf;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  shelf = await makeShelf(bench);
  hand = await bench.as('hand');
});
afterAll(() => bench.close());

const headOf = async ({ code }: { code: string }) => {
  const { body } = await hand.get(`/stock/${code}`);
  return body.slice(body.indexOf('class="portrait"'), body.indexOf('class="toolbar'));
};

test('the head of a lot’s page says what is held, what it lacks, and the first reason against a sale', async () => {
  const lot = await shelf.lot({ sizeMm: null });
  const until = '2026-12-01';
  await bench.change((work) =>
    holdPieces(work, { lotId: lot.id, pieces: 2, buyer: 'Shop on the quay', until, note: '' }),
  );
  const head = await headOf(lot);
  expect(head).toContain('pieces, 2 held');
  for (const said of ['No photo yet', 'not measured', 'no price', 'On no rack', 'Never looked at']) {
    expect(head, said).toContain(said);
  }
  expect(head).toContain('Not ready to sell');
  expect(head).toContain('Nobody noted its size. And');
});

test('its pieces are drawn once their count has changed', async () => {
  const lot = await shelf.lot();
  expect((await hand.get(`/stock/${lot.code}`)).body).not.toContain('Its life so far');
  await bench.change((work) =>
    countLot(work, { lotId: lot.id, reason: 'lost', pieces: 4, at: benchNow, note: '' }),
  );
  const { body } = await hand.get(`/stock/${lot.code}`);
  expect(body).toContain('Its life so far');
  expect(body).toMatch(/aria-label="\d pieces? now, 5 pieces at most\."/);
});

test('a lot without pieces offers neither a look nor a sale', async () => {
  const lot = await shelf.lot({ pieces: 1 });
  await bench.change((work) =>
    countLot(work, { lotId: lot.id, reason: 'lost', pieces: 1, at: benchNow, note: '' }),
  );
  const { body } = await hand.get(`/stock/${lot.code}`);
  expect(body).not.toContain('Record condition');
  expect(body).not.toContain('>Sell<');
  expect(body).not.toContain('eady to sell</b>');
  expect(body).toContain('Another like this');
});
