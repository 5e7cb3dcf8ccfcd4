import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { type Ground, layGround, lot, place, survey, turn } from './ground.ts';

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
    expect(body).toMatch(/<td data-label="Slot"><span>A1<\/span>/);
    for (const view of ['daily', 'flow', 'condition', 'age', 'kind'])
      expect((await hand.get(`/racks/${ground.rackId}?view=${view}`)).status, view).toBe(200);
    expect((await hand.get(`/racks/${ground.rackId}?view=daily`)).body).toContain('>2.0</text>');
  });

  test('what is open about a lot marks it, is told beneath, and is counted on every list', async () => {
    const lotId = await trachy('K52-27T', 'A2');
    const finding = { numbers: 'used to 70, stands under 120', why: 'Light.', firstStep: 'Move it.' };
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
    expect(rack).toContain('used to 70, stands under 120');
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
    expect(bright).toContain('200 is above the 150 that its kind bears at all.');
    expect(bright).toContain('Its kind is kept in low to medium flow.');
    expect(bright).toContain('A jet strikes there. Its kind: never on flesh.');
    expect((await to('B2')).body).toContain('30 is less than the 50 its kind is kept at.');
    expect((await to('B3')).body).toContain('The light there was never measured: nothing can be said of it.');
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
    expect(body).toContain('There stands K52-27T');
    expect(body).not.toContain('/placements"');
    expect((await to('A2')).body).toContain('K52-27T in B1');
  });

  test('with only the lot known it offers the free slots that suit; with only the slot, it asks for the lot', async () => {
    const offered = await hand.get('/racks/move?lot=R46-TKR');
    expect(offered.body).toContain('Where does R46-TKR go?');
    expect(offered.body).toContain(`slot=${ground.slots.A2}`);
    expect(offered.body.match(/class="goal"/g)).toBeNull();
    const asked = await hand.get(`/racks/move?slot=${ground.slots.A2}`);
    expect(asked.body).toContain('Move a lot to Window rack, A2');
    expect(asked.body).toContain(`/racks/move?lot=R46-TKR&amp;slot=${ground.slots.A2}`);
    expect((await hand.get('/racks/move')).status).toBe(200);
  });

  test('an unknown code, or slots of two racks, are answered in words', async () => {
    const unknown = await to('A2', 'XXX-XXX');
    expect(unknown.status).toBe(404);
    expect(unknown.body).toContain('A lot with the code XXX-XXX does not exist');
    expect((await hand.get('/racks/move?lot=R46-TKR&slot=nonsense')).status).toBe(404);
  });
});
