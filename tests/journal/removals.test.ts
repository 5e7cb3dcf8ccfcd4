import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let hall: Hall;
let owner: Visitor;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  owner = await bench.as('owner', 'Ines Varga');
});

afterAll(() => bench.close());

/** One thing of each kind that was entered by mistake, and whether it is still there. */
const mistakes: Readonly<Record<string, () => Promise<{ id: string }>>> = {
  system: () => bench.service.db.system.create({ data: { siteId: hall.siteId, name: 'Wrong', volumeL: 10 } }),
  tank: () =>
    bench.service.db.tank.create({
      data: { systemId: hall.systemId, name: 'Wrong', lengthMm: 900, widthMm: 400, heightMm: 300 },
    }),
  rack: async () => {
    const form = { name: 'Wrong', rows: '2', columns: '3', depthMm: '20', base: 'egg_crate', slopeDeg: '' };
    const sent = await owner.post(`/farm/tanks/${hall.tankId}/racks`, form);
    expect(sent.status, sent.body.replace(/[\s\S]*<main/, '')).toBe(303);
    return bench.service.db.rack.findFirstOrThrow({ where: { name: 'Wrong' } });
  },
  lamp: async () => {
    const lamp = await bench.service.db.lamp.create({
      data: { tankId: hall.tankId, name: 'Wrong', litHours: 10, rampHours: 1 },
    });
    await bench.service.db.lampSetting.create({ data: { lampId: lamp.id, at: benchNow, percent: 40 } });
    return lamp;
  },
  equipment: () =>
    bench.service.db.equipment.create({ data: { systemId: hall.systemId, kind: 'heater', name: 'Wrong' } }),
  circuit: () => bench.service.db.circuit.create({ data: { siteId: hall.siteId, name: 'Wrong' } }),
  contact: () =>
    bench.service.db.contact.create({ data: { siteId: hall.siteId, role: 'plumber', number: '555 0100' } }),
  kit: async () => {
    const { id } = await bench.service.db.method.findFirstOrThrow();
    return bench.service.db.kit.create({ data: { methodId: id, label: 'Wrong', openedAt: benchNow } });
  },
  method: () =>
    bench.service.db.method.create({ data: { quantityCode: 'alkalinity', name: 'Wrong', absolute: 0.1 } }),
  routine: () =>
    bench.service.db.routine.create({
      data: {
        ...{ systemId: hall.systemId, work: 'test', quantityCode: 'alkalinity', detail: {} },
        ...{ everyDays: 3, startsOn: new Date('2026-11-24') },
      },
    }),
  account: async () => {
    await owner.post('/people', { name: 'Wrong Person', email: '', role: 'hand', password: '', pin: '8305' });
    return bench.service.db.account.findFirstOrThrow({ where: { name: 'Wrong Person' } });
  },
};

const lineOf = (subjectId: string) =>
  bench.service.db.journalLine.findFirst({ where: { subjectId, kind: 'record.removed' } });

describe('what was entered by mistake', () => {
  test.each(Object.keys(mistakes))('%s: is removed with its reason while nothing uses it', async (noun) => {
    const { id } = await (mistakes[noun] as () => Promise<{ id: string }>)();
    const path = `/removals/${noun}/${id}`;
    expect((await owner.get(path)).body).toContain('Nothing uses it yet');
    const unsaid = await owner.post(path, { reason: '' });
    expect([unsaid.status, unsaid.body]).toEqual([422, expect.stringContaining('Enter why it was wrong')]);
    const sent = await owner.post(path, { reason: 'Typed twice' });
    expect(sent.status, sent.body.replace(/[\s\S]*<main/, '')).toBe(303);
    expect((await owner.get(sent.location ?? '')).body).toContain(
      'is removed. The journal keeps what it was.',
    );
    expect((await owner.get(path)).status).toBe(404);
    expect(await lineOf(id)).toMatchObject({ accountId: owner.id, detail: { reason: 'Typed twice' } });
  });

  test('is kept where something uses it, and the page leads there', async () => {
    for (const [noun, id, words] of [
      ['system', hall.systemId, 'Tanks'],
      ['tank', hall.tankId, 'Window rack'],
      ['rack', hall.window, 'Places where lots are or were'],
      ['account', owner.id, 'It cannot be removed'],
    ] as const) {
      const { body } = await owner.get(`/removals/${noun}/${id}`);
      const main = body.replace(/[\s\S]*<main/, '');
      expect(main).toContain('It cannot be removed');
      expect(main).toContain(words);
      expect(main, 'each kind of record has words of its own').not.toMatch(/<strong>[a-z]/);
      const sent = await owner.post(`/removals/${noun}/${id}`, { reason: 'Not wanted' });
      expect([noun, sent.status]).toEqual([noun, 409]);
    }
    expect(await bench.service.db.rack.count({ where: { id: hall.window } })).toBe(1);
  });

  test('is found by arrays too: a slot that a planned move was promised keeps its rack', async () => {
    const slot = await bench.service.db.slot.findFirstOrThrow({ where: { rackId: hall.empty } });
    const plan = await bench.service.db.movePlan.create({
      data: { siteId: hall.siteId, name: 'To the bare rack' },
    });
    await bench.service.db.plannedMove.create({
      data: { planId: plan.id, position: 1, lotId: hall.lots.A1.id, slotIds: [slot.id] },
    });
    const sent = await owner.post(`/removals/rack/${hall.empty}`, { reason: 'Not wanted' });
    expect(sent.status).toBe(409);
  });

  test('is not for hands, and people are removed by the owner alone', async () => {
    const hand = await bench.as('hand');
    expect((await hand.get(`/removals/rack/${hall.window}`)).status).toBe(403);
    const manager = await bench.as('manager');
    expect((await manager.get(`/removals/account/${hand.id}`)).status).toBe(403);
  });
});
