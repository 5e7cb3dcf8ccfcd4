import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Ground, layGround, layRack, lot, place, survey, turn } from '../farm/ground.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';

describe('moving a lot', () => {
  let bench: Bench;
  let hand: Visitor;
  let ground: Ground;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    hand = await bench.as('hand');
    ground = await layGround(bench);
    await turn(bench, ground.lampId, '2026-01-01T00:00:00Z', 60, { litHours: 10, rampHours: 2 });
    await survey(bench, ground, '2026-01-02T00:00:00Z', 60, { A1: 70, A2: 119, A3: 200, B1: 72, B2: 30 });
    await bench.service.db.slot.update({
      where: { id: ground.slots.A3 as string },
      data: { jet: true, flow: 'high' },
    });
    const { id } = await bench.service.db.kind.findUniqueOrThrow({
      where: { code: 'trachyphyllia-geoffroyi' },
    });
    const lotId = await lot(bench, ground.siteId, 'R46-TKR');
    await bench.service.db.lot.update({ where: { id: lotId }, data: { kindId: id } });
    await place(bench, lotId, [ground.slots.A1], '2026-02-01T00:00:00Z');
  });
  afterAll(() => bench.close());

  const to = (slot: string, code = 'R46-TKR') =>
    hand.get(`/racks/move?lot=${code}&slot=${ground.slots[slot]}`);

  test('says first what the light there is to what it is used to, and warns past the step of its kind', async () => {
    const { body } = await to('A2');
    expect(body).toContain(
      'Light: from 70 to 119 µmol/(m² s). That is 1.7 times the daily light it is used to.',
    );
    expect(body).toContain('Its kind takes 1.2 times in one step: risk of bleaching.');
    const gentle = (await to('B1')).body;
    expect(gentle).toContain('from 70 to 72');
    expect(gentle).not.toContain('speaks against it');
  });

  test('the same is told at once, while a finger is still over the slot', async () => {
    const ask = (query: string) => hand.get(`/api/moves/meaning?${query}`);
    const answer = await ask(`lot=r46tkr&slot=${ground.slots.A2}`);
    expect(answer.json()).toMatchObject({ lot: 'R46-TKR', to: 'Window rack, A2', taken: null });
    const { statements, risks } = answer.json() as { statements: string[]; risks: string[] };
    expect(statements[0]).toContain('1.7 times the daily light it is used to');
    expect(risks[0]).toContain('risk of bleaching');
    expect((await ask(`lot=NONE&slot=${ground.slots.A2}`)).status).toBe(404);
    expect((await ask('lot=R46-TKR&slot=A2')).status).toBe(422);
  });

  test('warns of a ceiling, of too little, of unsuited flow and of a jet; says when light is unknown', async () => {
    const bright = (await to('A3')).body;
    expect(bright).toContain('200 is above 150, the most its kind can take.');
    expect(bright).toContain('Its kind is kept in low to medium flow.');
    expect(bright).toContain('A jet strikes there. Its kind: never on flesh.');
    expect((await to('B2')).body).toContain('30 is less than the 50 its kind is kept at.');
    expect((await to('B3')).body).toContain('The light there was never measured, so it is not known.');
  });

  test('the confirming form posts to the lot with slot, time, reason and a key of its own', async () => {
    const { body } = await to('B1', 'r46tkr');
    const lotId = (await bench.service.db.lot.findUniqueOrThrow({ where: { code: 'R46-TKR' } })).id;
    expect(body).toContain(`action="/lots/${lotId}/placements"`);
    for (const name of ['_key', 'at', 'reason', 'slot']) expect(body).toContain(`name="${name}"`);
    expect(body).toContain(`name="slot" value="${ground.slots.B1}"`);
  });

  test('a taken slot is said to be taken, by whom, and cannot be confirmed', async () => {
    const other = await lot(bench, ground.siteId, 'K52-27T');
    await place(bench, other, [ground.slots.B1], '2026-02-01T00:00:00Z');
    const { body } = await to('B1');
    expect(body).toContain('Taken by K52-27T');
    expect(body).not.toContain('/placements"');
    expect((await to('A2')).body).toContain('K52-27T in B1');
  });

  test('with only the lot known it outlines the free slots that suit, and says when there is none', async () => {
    const where = async () => (await hand.get('/racks/move?lot=R46-TKR')).body;
    const none = await where();
    expect(none).toContain('Where does R46-TKR go?');
    expect(none).toContain(`slot=${ground.slots.A2}`);
    expect(none).toContain('No free slot here suits it');
    expect(none).not.toContain('class="goal"');
    // B1, light 72, suits it as soon as the lot that stands there is gone.
    await bench.service.db.placement.updateMany({
      where: { lot: { code: 'K52-27T' } },
      data: { toAt: benchNow },
    });
    const one = await where();
    expect(one).toContain('1 free slot here suits it by light and flow');
    expect(one.match(/class="goal"/g)).toHaveLength(1);
  });

  test('a lot without a slot is offered the best suited rack first, one in quarantine a tank for that', async () => {
    const { db } = bench.service;
    const kindId = (await db.lot.findUniqueOrThrow({ where: { code: 'R46-TKR' } })).kindId;
    const lotId = await lot(bench, ground.siteId, 'W57-7NN');
    await db.lot.update({ where: { id: lotId }, data: { kindId } });
    const under = { tankId: ground.tankId, lampId: ground.lampId };
    const suited = await layRack(bench, under, { name: 'Zenith' });
    await survey(bench, suited, '2026-01-02T00:00:00Z', 60, 90);
    const opened = async (page: string) => {
      const { body } = await hand.get(page);
      return /<option value="([^"]+)"[^>]* selected[^>]*>([^<]+)/.exec(body)?.slice(1);
    };
    const best = [suited.rackId, expect.stringContaining('Zenith (6 free, 6 suit)')];
    expect(await opened('/racks/move?lot=W57-7NN')).toEqual(best);
    expect(await opened('/stock/W57-7NN/place')).toEqual(best);
    const apart = { systemId: ground.systemId, lengthMm: 900, widthMm: 400, heightMm: 400 };
    const tank = await db.tank.create({ data: { ...apart, name: 'Arrivals', quarantine: true } });
    const first = await layRack(bench, { tankId: tank.id, lampId: null }, { name: 'Q1' });
    expect(await opened('/stock/W57-7NN/place')).toEqual(best);
    await db.lot.update({ where: { id: lotId }, data: { quarantineUntil: new Date('2027-02-01') } });
    expect((await opened('/stock/W57-7NN/place'))?.[0]).toBe(first.rackId);
    expect((await opened(`/stock/W57-7NN/place?rack=${ground.rackId}`))?.[0]).toBe(ground.rackId);
    expect((await opened('/stock/R46-TKR/place'))?.[0]).toBe(ground.rackId);
  });

  test('a lot that is to be kept apart is offered racks in other water alone, those for quarantine first', async () => {
    const page = '/racks/move?lot=R46-TKR&apart=yes';
    const none = (await hand.get(page)).body;
    expect(none).toContain('No other water for R46-TKR');
    expect(none).not.toContain('<option');
    const { db } = bench.service;
    const far = { siteId: ground.siteId, name: 'Far water', volumeL: 500 };
    const systemId = (await db.system.create({ data: far })).id;
    const tankOf = (name: string, quarantine: boolean) =>
      db.tank.create({ data: { systemId, name, quarantine, lengthMm: 900, widthMm: 400, heightMm: 400 } });
    const rackIn = async (tank: string, name: string) =>
      (await layRack(bench, { tankId: tank, lampId: null }, { name })).rackId;
    const plain = await rackIn((await tankOf('Grow', false)).id, 'Far rack');
    const only = (await hand.get(page)).body;
    expect(only.match(/<option value="([^"]+)/g)).toHaveLength(1);
    expect(only).toContain('This is no quarantine tank');
    const kept = await rackIn((await tankOf('Kept apart', true)).id, 'Apart rack');
    const { body } = await hand.get(page);
    expect([...body.matchAll(/<option value="([^"]+)/g)].map(([, id]) => id)).toEqual([kept, plain]);
    expect(body).not.toContain('This is no quarantine tank');
    const href =
      /href="(\/racks\/move\?lot=R46-TKR&amp;slot=[^"]+)"/.exec(body)?.[1]?.replaceAll('&amp;', '&') ?? '';
    const meaning = (await hand.get(href)).body;
    expect(meaning).toContain('It is other water, that of Far water');
    expect((await to('A2')).body).not.toContain('It is other water');
    expect(meaning).toMatch(/rack&#x3D;[^"]+&amp;apart&#x3D;yes/);
  });

  test('with only the slot known it asks for the lot', async () => {
    const { body } = await hand.get(`/racks/move?slot=${ground.slots.A2}`);
    expect(body).toContain('Move a lot to Window rack, A2');
    expect(body).toContain(`/racks/move?lot=R46-TKR&amp;slot=${ground.slots.A2}`);
    expect((await hand.get('/racks/move')).status).toBe(200);
  });

  test('an unknown code, or slots of two racks, are answered in words', async () => {
    const unknown = await to('A2', 'XXX-XXX');
    expect(unknown.status).toBe(404);
    expect(unknown.body).toContain('A lot with the code XXX-XXX does not exist');
    expect((await hand.get('/racks/move?lot=R46-TKR&slot=nonsense')).status).toBe(404);
  });
});
