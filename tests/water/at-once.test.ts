import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from './farm.ts';

let bench: Bench;
let people: Visitor[];
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeSystem(bench, 'First');
  people = [await bench.as('manager', 'Bea'), await bench.as('manager', 'Rui')];
});
afterAll(() => bench.close());

/** Twenty answers to twenty requests at once, by two people in turn. */
async function twenty(ask: (person: Visitor, n: number) => Promise<{ status: number }>): Promise<number[]> {
  const asked = Array.from({ length: 20 }, (_, n) => ask(people[n % 2] as Visitor, n));
  return (await Promise.all(asked)).map(({ status }) => status);
}

const taken = (statuses: number[]) => statuses.filter((status) => status === 303 || status === 201).length;

describe('what two people enter in the same second', () => {
  test('doses do not pass the daily cap together: as many are kept as one after the other', async () => {
    const each = { substance: 'sodium bicarbonate', amount: '8', unit: 'g' };
    const alone = await makeSystem(bench, 'Alone');
    let inTurn = 0;
    for (let n = 0; n < 6; n++) {
      const { status } = await (people[0] as Visitor).post(`/water/systems/${alone}/doses`, each);
      inTurn += status === 303 ? 1 : 0;
    }
    expect(inTurn).toBeGreaterThan(0);
    expect(inTurn).toBeLessThan(6);
    const systemId = await makeSystem(bench, 'Together');
    const byPage = await twenty((person) => person.post(`/water/systems/${systemId}/doses`, each));
    expect(taken(byPage)).toBe(inTurn);
    const other = await makeSystem(bench, 'By JSON');
    const json = { systemId: other, substance: 'sodium bicarbonate', amount: 8, unit: 'g' };
    expect(taken(await twenty((person) => person.send('/api/doses', json)))).toBe(inTurn);
    expect(await bench.service.db.dose.count({ where: { systemId: other } })).toBe(inTurn);
  });

  test('a routine for the same test is planned once', async () => {
    const systemId = await makeSystem(bench, 'Routines');
    const routine = { work: 'test', quantityCode: 'alkalinity', everyDays: '7', startsOn: '2026-11-25' };
    const planned = await twenty((person) => person.post(`/water/systems/${systemId}/routines`, routine));
    expect(taken(planned)).toBe(1);
    expect(new Set(planned)).toEqual(new Set([303, 409]));
  });

  test('two numbers of one limit are both kept', async () => {
    const limit = (name: string) => `/watch/limits/too-much-light/${name}`;
    const [one, two] = ['opens', 'slight'];
    const set = (person: Visitor, n: number) =>
      person.post(limit(n % 2 === 0 ? one : two), {
        value: n % 2 === 0 ? '1.3' : '1.2',
        reason: 'As agreed with the crew.',
        where: 'farm',
      });
    const statuses = await twenty(set);
    expect(statuses.every((status) => status < 500)).toBe(true);
    expect(taken(statuses)).toBe(20);
    const kept = await bench.service.db.ruleSetting.findMany({ where: { rule: 'too-much-light' } });
    expect(kept).toHaveLength(1);
    expect(Object.keys(kept[0]?.settings as object).sort()).toEqual([one, two].sort());
  });

  test('equipment is not hung on a circuit that is taken out of use meanwhile', async () => {
    const manager = people[0] as Visitor;
    const { siteId } = await bench.service.db.system.findFirstOrThrow();
    const systemId = await makeSystem(bench, 'Circuits');
    const free = { systemId, kind: 'heater', name: 'Heater' };
    expect((await manager.post('/farm/equipment', free)).status).toBe(303);
    for (let turn = 0; turn < 10; turn++) {
      const circuit = await bench.service.db.circuit.create({ data: { siteId, name: `Board ${turn}` } });
      const off = {
        name: circuit.name,
        place: '',
        protection: '',
        testEveryDays: '',
        note: '',
        removed: 'yes',
      };
      const hung = { systemId, kind: 'heater', name: `Heater ${turn}`, circuitId: circuit.id };
      await Promise.all([
        manager.post(`/farm/circuits/${circuit.id}`, { ...off, version: String(circuit.version) }),
        (people[1] as Visitor).post('/farm/equipment', hung),
      ]);
    }
    const stranded = await bench.service.db.equipment.count({
      where: { removedAt: null, circuit: { removedAt: { not: null } } },
    });
    expect(stranded).toBe(0);
    const hung = await bench.service.db.equipment.count({ where: { systemId } });
    const taken = await bench.service.db.circuit.count({ where: { removedAt: { not: null } } });
    expect(hung + taken).toBeGreaterThanOrEqual(10);
  });
});
