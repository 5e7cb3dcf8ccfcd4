import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Ground, layGround, lot, place, survey, turn } from '../farm/ground.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

describe('racks as they stand', () => {
  let bench: Bench;
  let hand: Visitor;
  let manager: Visitor;
  let ground: Ground;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    hand = await bench.as('hand');
    manager = await bench.as('manager');
    ground = await layGround(bench);
    await turn(bench, ground.lampId, '2026-01-01T00:00:00Z', 60, { litHours: 10, rampHours: 2 });
    await survey(bench, ground, '2026-01-02T00:00:00Z', 60, {
      A1: 70,
      A2: 120,
      A3: 200,
      B1: 72,
      B2: 75,
      B3: 80,
    });
  });
  afterAll(() => bench.close());

  const kindOf = async (code: string) => bench.service.db.kind.findUniqueOrThrow({ where: { code } });
  const trachy = async (code: string, slot: string, at = '2026-02-01T00:00:00Z') => {
    const lotId = await lot(bench, ground.siteId, code);
    const { id } = await kindOf('trachyphyllia-geoffroyi');
    await bench.service.db.lot.update({ where: { id: lotId }, data: { kindId: id } });
    await place(bench, lotId, [ground.slots[slot]], at);
    return lotId;
  };

  test('the flow of single slots and of a whole row is set in one form', async () => {
    const url = `/racks/${ground.rackId}/flow`;
    const version = /name="version" value="(\d+)"/.exec((await hand.get(url)).body)?.[1];
    const all = Object.fromEntries(Object.keys(ground.slots).map((name) => [name, 'low']));
    const form = { ...all, A3: 'high-jet', version, stretch: 'row-2', stretchValue: 'medium' };
    expect((await hand.post(url, form)).location).toBe(`/racks/${ground.rackId}?view=flow`);
    const slots = await bench.service.db.slot.findMany({
      where: { rackId: ground.rackId },
      orderBy: [{ row: 'asc' }, { column: 'asc' }],
    });
    expect(slots.map(({ flow, jet }) => `${flow}${jet ? '+jet' : ''}`)).toEqual([
      'low',
      'low',
      'high+jet',
      'medium',
      'medium',
      'medium',
    ]);
    expect((await hand.post(url, form)).status).toBe(409);
    const half = await hand.post(url, { ...form, version: Number(version) + 1, stretchValue: '' });
    expect(half.body).toContain('Choose what they should have.');
  });

  test('several slots that were tapped get one flow at once, the others keep theirs', async () => {
    const url = `/racks/${ground.rackId}/flow`;
    const page = (await hand.get(url)).body;
    const version = /name="version" value="(\d+)"/.exec(page)?.[1];
    const now = [...page.matchAll(/id="([AB]\d)" name="[AB]\d" value="([a-z-]+)"/g)];
    const form = Object.fromEntries(now.map(([, name, value]) => [name, value]));
    expect(form).toMatchObject({ A1: 'low', A3: 'high-jet', B1: 'medium' });
    const sent = { ...form, version, stretch: '', picked: ['B3', 'B2'] };
    expect((await hand.post(url, { ...sent, stretchValue: '' })).body).toContain(
      'Choose what they should have.',
    );
    expect((await hand.post(url, { ...sent, stretchValue: 'still' })).status).toBe(303);
    const after = (await hand.get(url)).body;
    for (const [name, value] of [
      ['B3', 'still'],
      ['B2', 'still'],
      ['A2', 'low'],
      ['A3', 'high-jet'],
    ])
      expect(after).toContain(`id="${name}" name="${name}" value="${value}"`);
  });

  test('what pieces stand on is set slot by slot too', async () => {
    const url = `/racks/${ground.rackId}/base`;
    const version = /name="version" value="(\d+)"/.exec((await hand.get(url)).body)?.[1];
    const all = Object.fromEntries(Object.keys(ground.slots).map((name) => [name, 'egg_crate']));
    await hand.post(url, { ...all, B3: 'sand', version, stretch: '', stretchValue: '' });
    expect((await hand.get(`/racks/${ground.rackId}?view=flow`)).body).toContain('>sand</text>');
  });

  test('the rack shows its lots in the picture and as a table, free slots lead to a move, the others to the lot', async () => {
    await trachy('R46-TKR', 'A1');
    const { body } = await hand.get(`/racks/${ground.rackId}`);
    expect(body).toContain('href="/stock/R46-TKR"');
    expect(body).toContain(`href="/racks/move?slot=${ground.slots.A2}"`);
    expect(body).toContain('<title>A1: R46-TKR, Trachyphyllia geoffroyi, light 70, flow low</title>');
    expect(body).toMatch(/<td><span>A1<\/span>/);
    for (const view of ['daily', 'flow', 'condition', 'age', 'kind'])
      expect((await hand.get(`/racks/${ground.rackId}?view=${view}`)).status, view).toBe(200);
    expect((await hand.get(`/racks/${ground.rackId}?view=daily`)).body).toContain('>2.0</text>');
  });

  test('what is open about a lot marks it, is told beneath, and is counted on every list', async () => {
    const lotId = await trachy('K52-27T', 'A2');
    const finding = { numbers: 'used to 70, gets 120', why: 'Light.', firstStep: 'Move it.' };
    await bench.service.db.alert.create({
      data: {
        rule: 'too-much-light',
        subjectType: 'lot',
        subjectId: lotId,
        systemId: ground.systemId,
        severity: 'today',
        title: 'K52-27T stands too bright',
        finding,
        worst: 1.5,
        openedAt: new Date(),
        evaluatedAt: new Date(),
      },
    });
    const rack = (await hand.get(`/racks/${ground.rackId}`)).body;
    expect(rack).toContain('class="lot today"');
    expect(rack).toContain('>too bright</text>');
    expect(rack).toContain('used to 70, gets 120');
    for (const url of ['/racks', `/tanks/${ground.tankId}`]) {
      const { body } = await hand.get(url);
      expect(body, url).toContain('1 today');
    }
    await bench.service.db.alert.updateMany({
      data: { putOffUntil: new Date('2027-01-01'), putOffReason: 'known', putOffWorst: 1.5 },
    });
    expect((await hand.get(`/racks/${ground.rackId}`)).body).not.toContain('class="lot today"');
  });

  test('made larger it gains slots, made smaller it keeps what stands there and the history of the rest', async () => {
    const url = `/farm/racks/${ground.rackId}`;
    const edit = async (rows: number, columns: number) => {
      const version = /name="version" value="(\d+)"/.exec((await manager.get(url)).body)?.[1];
      return manager.post(url, {
        name: 'Window rack',
        rows,
        columns,
        depthMm: 30,
        base: 'rock',
        lampId: ground.lampId,
        version,
      });
    };
    expect((await edit(3, 4)).status).toBe(303);
    expect(await bench.service.db.slot.count({ where: { rackId: ground.rackId } })).toBe(12);
    const cut = await edit(2, 1);
    expect(cut.status).toBe(409);
    expect(cut.body).toContain('The rack would end before K52-27T in A2.');
    expect((await edit(1, 2)).status).toBe(303);
    expect((await hand.get(`/api/racks/${ground.rackId}`)).json()).toMatchObject({
      rows: 1,
      columns: 2,
      slots: [{ name: 'A1' }, { name: 'A2' }],
    });
    const lotId = await lot(bench, ground.siteId);
    await expect(place(bench, lotId, [ground.slots.B1], '2026-03-01T00:00:00Z')).rejects.toThrow(
      'outside its rack',
    );
    await expect(
      bench.service.pool.query('UPDATE rack SET columns = 1 WHERE id = $1', [ground.rackId]),
    ).rejects.toThrow('lots stand where the rack would end');
    expect((await edit(2, 3)).status).toBe(303);
    const light = (await hand.get(`/api/racks/${ground.rackId}`)).json() as {
      slots: { light: { par: number } }[];
    };
    expect(light.slots.map((slot) => slot.light.par)).toEqual([70, 120, 200, 72, 75, 80]);
  });
});
