import { afterAll, beforeAll, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let manager: Visitor;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await bench.service.db.site.create({ data: { name: 'Saltgate', timeZone: 'Europe/Lisbon' } });
  manager = await bench.as('manager');
  hand = await bench.as('hand');
});
afterAll(() => bench?.close());

test('an empty list says whom to enter first, and who is not on it yet', async () => {
  const { body } = await hand.get('/farm/contacts');
  expect(body).toContain('No numbers yet.');
  expect(body).toContain('ambulance');
  expect(body).toContain('Second key holder');
});

test('a manager enters a number; everybody finds it with the day it was last tested', async () => {
  const sent = await manager.post('/farm/contacts', {
    role: 'electrician',
    name: 'Ines Lume',
    number: '+351 21 000 11 22',
    testedOn: '2026-11-02',
    note: 'Also at night',
  });
  expect(sent.location).toBe('/farm/contacts');
  const { body } = await hand.get('/farm/contacts');
  expect(body).toContain('tel:+351 21 000 11 22');
  expect(body).toContain('2 Nov 2026');
  expect((await hand.post('/farm/contacts', { role: 'vet', number: '1' })).status).toBe(403);
});

test('a number without digits is refused beside its field, and nothing is kept', async () => {
  const refused = await manager.post('/farm/contacts', { role: 'vet', number: 'ask Ines' });
  expect(refused.status).toBe(422);
  expect(refused.body).toContain('Enter the number with digits');
  expect(await bench.service.db.contact.count({ where: { role: 'vet' } })).toBe(0);
});

test('a number that is taken off the list stays in the records', async () => {
  const { id, version } = await bench.service.db.contact.findFirstOrThrow({ where: { role: 'electrician' } });
  const form = { role: 'electrician', number: '+351 21 000 11 23', removed: 'yes', version };
  expect((await manager.post(`/farm/contacts/${id}`, form)).location).toBe('/farm/contacts');
  expect((await hand.get('/farm/contacts')).body).toContain('No numbers yet.');
  expect((await manager.post(`/farm/contacts/${id}`, form)).status).toBe(409);
});
