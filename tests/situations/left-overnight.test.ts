import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { plainFinding } from '../../src/alerts/finding.ts';
import { addContact } from '../../src/farm/contacts/contacts.ts';
import { reachesNight } from '../../src/farm/contacts/night-watch.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// What is acute and left overnight needs somebody who comes. When night begins, and what keeps stock alive, are own choices.

let bench: Bench;
let manager: Visitor;
let systemId: string;
let siteId: string;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager');
  systemId = await makeSystem(bench);
  ({ siteId } = await bench.service.db.system.findUniqueOrThrow({ where: { id: systemId } }));
});
afterAll(() => bench.close());

const asked = 'Nobody is on call, and this can do harm overnight.';

async function alert(severity: 'now' | 'today'): Promise<string> {
  const at = new Date('2026-11-24T08:00:00Z');
  const finding = {
    ...plainFinding,
    score: 1,
    numbers: '',
    why: '',
    firstStep: '',
    limit: { label: 'Limit', text: '27', unit: '°C', source: 'test' },
    number: { label: 'Level', text: '31', unit: '°C' },
  };
  const { id } = await bench.service.db.alert.create({
    data: {
      ...{ rule: 'out-of-band', subjectType: 'system', subjectId: systemId, systemId, severity, finding },
      ...{ facet: severity, title: `Too warm, ${severity}`, worst: 1, openedAt: at, evaluatedAt: at },
    },
  });
  return id;
}

const putOff = (id: string, more: object = {}) =>
  manager.post(`/watch/${id}/postponement`, { until: '2026-11-26', reason: 'Parts come tomorrow', ...more });

const switchOff = (thing: string, minutes: string, more: object = {}) =>
  manager.post('/farm/switched-off', { systemId, pick: `thing:${thing}`, why: 'Repair', minutes, ...more });

describe('with nobody on call', () => {
  test('an alert to act on now is put off only with the name of who comes; what can wait is put off as before', async () => {
    const now = await alert('now');
    // No tap alone puts off what is acute.
    const oneTap = 'Not now, from the alert';
    expect((await manager.get(`/watch/${now}`)).body).not.toContain(oneTap);
    expect((await manager.get(`/watch/${await alert('today')}`)).body).toContain(oneTap);
    const refused = await putOff(now);
    expect(refused.status).toBe(422);
    expect(refused.body).toContain(asked);
    expect((await putOff(now, { watcher: 'Nela, at 23:00 and 03:00' })).status).toBe(303);
    expect((await manager.get(`/watch/${now}`)).body).toContain(
      'who comes or looks next: Nela, at 23:00 and 03:00',
    );
    const { id } = await bench.service.db.alert.findFirstOrThrow({ where: { severity: 'today' } });
    expect((await putOff(id)).status).toBe(303);
  });

  test('what keeps stock alive is left off overnight only with a name, and nothing is noted before', async () => {
    bench.at('2026-11-24T17:00:00Z');
    const refused = await switchOff('heating', '900');
    expect(refused.status).toBe(422);
    expect(refused.body).toContain(asked);
    expect((await manager.get('/farm/switched-off')).body).toContain('Nothing is off.');
    expect((await switchOff('heating', '60')).status).toBe(303);
    expect((await switchOff('skimmer', '900')).status).toBe(303);
    expect((await switchOff('cooling', '900', { watcher: 'Nela, 22:00' })).status).toBe(303);
  });
});

test('with somebody on call nothing more is asked, and the page names them', async () => {
  await bench.change((work) =>
    addContact(work, siteId, {
      ...{
        role: 'key_holder',
        name: 'Nela Orvalho',
        number: '555 0100',
        email: '',
        onCall: 1,
        testedOn: null,
        note: '',
      },
    }),
  );
  const id = (await bench.service.db.alert.findFirstOrThrow({ where: { severity: 'now' } })).id;
  await manager.post(`/watch/${id}/return`, {});
  expect((await manager.get(`/watch/${id}`)).body).toContain('On call: Nela Orvalho.');
  expect((await putOff(id)).status).toBe(303);
});

test.each([
  ['2026-11-24T17:00:00Z', '2026-11-24T21:30:00Z', false],
  ['2026-11-24T17:00:00Z', '2026-11-24T22:30:00Z', true],
  ['2026-11-24T17:00:00Z', '2026-11-25T08:00:00Z', true],
  ['2026-11-24T00:30:00Z', '2026-11-24T04:30:00Z', true],
  ['2026-11-24T05:30:00Z', '2026-11-24T07:30:00Z', false],
  ['2026-07-24T17:00:00Z', '2026-07-24T21:30:00Z', true],
])('from %s to %s reaches into the night in Lisbon: %s', (from, to, night) => {
  expect(reachesNight(new Date(from), new Date(to), 'Europe/Lisbon')).toBe(night);
});
