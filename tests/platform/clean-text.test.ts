import { afterAll, beforeAll, expect, test } from 'vitest';
import { cleanText, cleanTexts } from '../../src/platform/web/clean-text.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let owner: Visitor;

beforeAll(async () => {
  bench = await startBench({ care: false, watching: false });
  await bench.change(async (work) => {
    const site = await work.tx.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
    work.record('site.created', { type: 'site', id: site.id }, { name: site.name });
  });
  owner = await bench.as('owner', 'Ines Varga');
});

afterAll(() => bench.close());

test.each([
  ['a\u0000b', 'ab'],
  ['line\r\nbreak\tand tab', 'line\r\nbreak\tand tab'],
  ['\u001b[31mred\u007f', '[31mred'],
  ['half \ud83d of a pair', 'half \ufffd of a pair'],
  ['Zoë 8 °C 🪸', 'Zoë 8 °C 🪸'],
])('%j is kept as %j', (typed, kept) => {
  expect(cleanText(typed)).toBe(kept);
});

test('texts are cleaned wherever they stand, and nothing else is touched', () => {
  const bytes = Buffer.from([0, 1, 2]);
  const at = new Date();
  expect(cleanTexts({ 'na\u0000me': ['a\u0000', 1, null, { b: true }], bytes, at })).toEqual({
    name: ['a', 1, null, { b: true }],
    bytes,
    at,
  });
});

test('a NUL in a field is left out, and the form is taken', async () => {
  const form = { name: 'Frag\u0000 hall', volumeL: '1000' };
  expect((await owner.post('/farm/systems', form)).status).toBe(303);
  expect(await bench.service.db.system.findMany({ select: { name: true } })).toEqual([{ name: 'Frag hall' }]);
});

test('a request nested beyond all use is refused with a sentence', async () => {
  let nested: object = {};
  for (let i = 0; i < 200; i++) nested = { nested };
  const answer = await owner.send('/farm/systems', nested);
  expect(answer.status).toBe(400);
  expect(answer.json()).toMatchObject({ detail: expect.stringContaining('nested more than 20 deep') });
});

test('JSON is not kept by caches on the way', async () => {
  const answer = await owner.get('/api/move-plans', { accept: 'application/json' });
  expect(answer.status).toBe(200);
  expect(answer.headers['cache-control']).toBe('no-store');
});
