import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import type { Finding } from '../../src/alerts/finding.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// Three systems with no water in common whose pH sinks in one night share something: the air of the room, an instrument, a
// circuit (several systems at once are one matter: common practice, no source). Values invented.

let bench: Bench;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hand = await bench.as('hand');
});
afterAll(() => bench.close());

/** Each test has a fortnight of its own, so that what moved in another is long over. */
let begins = Date.parse('2026-08-01T08:00:00Z');
const morning = (day: number, minutes = 0) =>
  new Date(begins + (day - 1) * 86_400_000 + minutes * 60_000).toISOString();
beforeEach(() => {
  begins += 14 * 86_400_000;
});

async function enter(systemId: string, at: string, quantityCode: string, text: string) {
  bench.at(at);
  const readings = [{ quantityCode, text, sure: true }];
  const answer = await hand.send('/api/readings', { systemId, at: at.slice(0, 16), readings });
  expect(answer.status, answer.body).toBe(201);
}

async function threeSystems(name: string, code: string, calm: readonly string[], last: readonly string[]) {
  const ids: string[] = [];
  const { db } = bench.service;
  const { siteId } = await db.system.findUniqueOrThrow({ where: { id: await makeSystem(bench, name) } });
  for (const [n, text] of last.entries()) {
    const { id } = await db.system.create({ data: { siteId, name: `${name} ${n + 1}`, volumeL: 900 } });
    ids.push(id);
    for (const [i, value] of calm.entries()) await enter(id, morning(1 + i), code, value);
    await enter(id, morning(calm.length + 1), code, text);
  }
  return ids;
}

async function sharedAlerts(ids: readonly string[], asked: readonly string[], at: string) {
  bench.at(at);
  await evaluateSystems(bench.service, asked, new Date(at));
  const open = await bench.service.db.alert.findMany({
    where: { systemId: { in: [...ids] }, rule: 'moving-together', clearedAt: null },
  });
  return open.map(({ causeId, finding }) => ({ causeId, finding: finding as unknown as Finding }));
}

const ph = ['8.20', '8.22', '8.19', '8.21', '8.20', '8.21'];

describe('three systems of one site', () => {
  test('whose pH sinks in one night are one matter, which names the air of the room', async () => {
    const ids = await threeSystems('Air', 'ph', ph, ['7.85', '7.80', '7.90']);
    const alerts = await sharedAlerts(ids, [ids[2] ?? ''], morning(7, 10));
    expect(alerts).toHaveLength(3);
    expect(alerts.filter(({ causeId }) => causeId === null)).toHaveLength(1);
    const { finding } = alerts[0] as { finding: Finding };
    expect(finding.title).toBe('pH falls in Air 1, Air 2 and Air 3 together: look for one cause');
    expect(finding.firstStep).toMatch(/leave the room: carbon dioxide.*Open windows/);
    expect(finding.why).toContain('The air of the room');
    expect((await hand.get('/watch')).body).toContain('pH falls in Air 1, Air 2 and Air 3 together');
  });

  test('whose pH sinks fast and out of its band are one matter all the same, as urgent as each by itself', async () => {
    const ids = await threeSystems('Fast', 'ph', ph, ['7.72', '7.71', '7.73']);
    for (const id of ids.slice(0, 2)) await enter(id, morning(7, 30), 'ph', '7.70');
    bench.at(morning(7, 40));
    await evaluateSystems(bench.service, ids, new Date(morning(7, 40)));
    const open = await bench.service.db.alert.findMany({
      where: { systemId: { in: ids }, clearedAt: null, rule: { not: 'overdue' } },
    });
    expect(open.map(({ rule }) => rule)).toContain('sinking-fast');
    expect(open.filter(({ causeId }) => causeId === null)).toMatchObject([
      { rule: 'moving-together', severity: 'now' },
    ]);
  });

  test('on one circuit name it', async () => {
    const ids = await threeSystems(
      'Cold',
      'temperature',
      ['25.0', '25.1', '25.0', '24.9', '25.0', '25.0'],
      ['22.8', '22.5', '23.0'],
    );
    const { db } = bench.service;
    const { siteId } = await db.system.findUniqueOrThrow({ where: { id: ids[0] ?? '' } });
    const circuit = await db.circuit.create({ data: { siteId, name: 'B7' } });
    for (const systemId of ids)
      await db.equipment.create({
        data: { systemId, kind: 'heater', name: 'Heater', circuitId: circuit.id },
      });
    const [alert] = await sharedAlerts(ids, ids, morning(7, 10));
    expect(alert?.finding.why).toContain('All are on the circuit B7');
  });

  test.each([
    ['Two', ['7.85', '7.80', '8.20']],
    ['Apart', ['7.85', '8.55', '8.20']],
    ['Calm', ['8.20', '8.18', '8.22']],
  ])('are none where only two of them move, or not the same way: %s', async (name, last) => {
    const ids = await threeSystems(name, 'ph', ph, last);
    expect(await sharedAlerts(ids, ids, morning(7, 10))).toEqual([]);
  });
});
