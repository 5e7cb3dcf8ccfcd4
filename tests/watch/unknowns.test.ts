import { afterAll, beforeAll, expect, test } from 'vitest';
import { makeDigest } from '../../src/digest/digests.ts';
import { layGround } from '../farm/ground.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let manager: Visitor;
let siteId: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager');
});
afterAll(() => bench.close());

test('the pages and the first digest of an empty farm say what to set up, and never that the day is quiet', async () => {
  await bench.service.db.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
  const today = (await manager.get('/')).body;
  expect(today).toContain('No system is set up: add the first one.');
  expect(today).not.toContain('A quiet day');
  siteId = (await bench.service.db.site.findFirstOrThrow()).id;
  const { content } = await makeDigest(bench.service, siteId, benchNow);
  expect(content.headline).toBe('The farm is still to be set up');
  expect(content.unknowns.map(({ text }) => text)).toContain(
    'No water was ever tested: enter the first readings.',
  );
  expect((await manager.get('/digest')).body).toContain('No system is set up: add the first one.');
});

test('what rules leave out is said once a farm and never as an alert', async () => {
  await layGround(bench);
  const page = (await manager.get('/watch/limits')).body.replace(/\s+/g, ' ');
  for (const said of [
    'How the water moves is not known on Window rack',
    'The light was never measured on Window rack',
    'No dose was ever recorded for Shallow',
    'No water change was ever recorded for Shallow',
    'No bands are set for Shallow',
  ])
    expect(page).toContain(said);
  await bench.service.db.slot.updateMany({ data: { flow: 'medium' } });
  expect((await manager.get('/watch/limits')).body).not.toContain('How the water moves is not known');
  expect(await bench.service.db.alert.count()).toBe(0);
});
