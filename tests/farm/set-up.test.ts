import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { layGround, lot, place } from './ground.ts';

/** Builds a farm through its pages only, as an owner would. */
describe('setting up a farm', () => {
  let bench: Bench;
  let owner: Visitor;
  let hand: Visitor;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    await bench.service.db.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
    owner = await bench.as('owner');
    hand = await bench.as('hand');
  });
  afterAll(() => bench.close());

  const id = async (table: 'system' | 'tank' | 'lamp' | 'rack', name: string) => {
    const row = await (bench.service.db[table] as typeof bench.service.db.system).findFirstOrThrow({
      where: { name },
    });
    return row.id;
  };

  test('an empty farm says what to do first, and each step leads to the next', async () => {
    expect((await owner.get('/farm')).body).toContain('No systems yet.');
    const ready = (await owner.get('/stock/ready')).body;
    expect(ready).toContain('No lots in stock.');
    expect(ready).not.toMatch(/\b0 (lots|pieces|not)\b/);
    for (const empty of ['/stock/ready', '/racks', '/water', '/rounds/plans'])
      expect((await owner.get(empty)).body, `${empty}: a list of nothing is no file`).not.toContain(
        '/export/',
      );
    const system = await owner.post('/farm/systems', { name: 'Shallow', volumeL: '1800', note: '' });
    expect(system.location).toBe('/farm');
    expect((await owner.get('/farm')).body).toContain('Shallow has no tank yet.');
    await owner.post(`/farm/systems/${await id('system', 'Shallow')}/tanks`, {
      name: 'Tank 1',
      lengthMm: '240',
      widthMm: '70,5',
      heightMm: '38',
    });
    expect(await bench.service.db.tank.findFirst()).toMatchObject({
      lengthMm: 2400,
      widthMm: 705,
      heightMm: 380,
    });
    expect((await owner.get('/farm')).body).toContain('Tank 1 has no rack yet.');
    const rack = await owner.post(`/farm/tanks/${await id('tank', 'Tank 1')}/racks`, {
      name: 'Window rack',
      rows: '3',
      columns: '4',
      depthMm: '32',
      base: 'egg_crate',
      lampId: '',
    });
    const rackId = await id('rack', 'Window rack');
    expect(rack.location).toBe(`/racks/${rackId}`);
    expect(await bench.service.db.slot.count({ where: { rackId, flow: null } })).toBe(12);
    expect((await owner.get(`/racks/${rackId}/flow`)).body).toContain('not known');
    expect((await owner.get('/farm')).body).toContain('Tank 1 has no lamps yet.');
    await owner.post(`/farm/tanks/${await id('tank', 'Tank 1')}/lamps`, {
      name: 'Bars',
      percent: '60',
      litHours: '10',
      rampHours: '1',
      racks: rackId,
    });
    expect(await bench.service.db.rack.findFirst()).toMatchObject({ lampId: await id('lamp', 'Bars') });
    expect(await bench.service.db.lampSetting.findMany()).toMatchObject([
      { percent: 60, litHours: 10, rampHours: 1 },
    ]);
    expect((await owner.get('/farm')).body).not.toContain('yet.');
  });

  test('the bench hand may look at racks and not rebuild the farm', async () => {
    expect((await hand.get('/racks')).body).toContain('Window rack');
    const farm = await hand.get('/farm');
    expect(farm.status).toBe(200);
    expect(farm.body).not.toMatch(/href="\/farm\/systems\/new|Add a system/);
    expect((await hand.post('/farm/systems', { name: 'Deep', volumeL: '5' })).status).toBe(403);
  });

  test('a refused form keeps everything as typed, with the message beside the field', async () => {
    const answer = await owner.post('/farm/systems', {
      name: 'Deep',
      volumeL: 'two',
      note: 'under the stairs',
    });
    expect(answer.status).toBe(422);
    expect(answer.body).toContain('Enter the net volume as a number from 1 to 1000000 L.');
    for (const typed of ['value="Deep"', 'value="two"', 'under the stairs'])
      expect(answer.body).toContain(typed);
    for (const typed of ['1.800', '2,400', '24.125']) {
      const two = await owner.post('/farm/systems', { name: 'Deep', volumeL: typed });
      expect(two.status, typed).toBe(422);
      expect(two.body).toMatch(/Is that \d+ or [\d.]+ L\? Write it so/);
    }
    const double = await owner.post('/farm/systems', { name: 'Shallow', volumeL: '10' });
    expect(double.status).toBe(409);
    expect(double.body).toContain('There is already a system of this name.');
  });

  test('of two people editing one system the second is told, sees what is there now, and can save again', async () => {
    const systemId = await id('system', 'Shallow');
    const version = (await bench.service.db.system.findUniqueOrThrow({ where: { id: systemId } })).version;
    const edit = { name: 'Shallow', note: '', version };
    await owner.post(`/farm/systems/${systemId}`, { ...edit, volumeL: '1900' });
    const second = await owner.post(`/farm/systems/${systemId}`, { ...edit, volumeL: '2000' });
    expect(second.status).toBe(409);
    expect(second.body).toContain('There now: Shallow, 1,900 L');
    expect(second.body).toContain('value="2000"');
    const renewed = /name="version" value="(\d+)"/.exec(second.body)?.[1];
    await owner.post(`/farm/systems/${systemId}`, { ...edit, volumeL: '2000', version: renewed });
    expect((await bench.service.db.system.findUniqueOrThrow({ where: { id: systemId } })).volumeL).toBe(2000);
  });

  test('site, tank, rack and lamps are edited through their pages', async () => {
    const site = await bench.service.db.site.findFirstOrThrow();
    const edit = {
      name: 'Saltgate Quay',
      timeZone: 'Atlantic/Azores',
      digestAt: '05:45',
      version: site.version,
    };
    expect((await owner.post('/farm/site', edit)).location).toBe('/farm');
    expect((await owner.get('/farm')).body).toContain('Saltgate Quay');
    expect((await owner.post('/farm/site', { ...edit, digestAt: '25:00' })).body).toContain('like 06:30');
    expect((await owner.post('/farm/site', edit)).status).toBe(409);
    for (const page of [
      'site',
      `tanks/${await id('tank', 'Tank 1')}`,
      `racks/${await id('rack', 'Window rack')}`,
    ])
      expect((await owner.get(`/farm/${page}`)).status, page).toBe(200);
    const lampId = await id('lamp', 'Bars');
    const seen = /name="seen" value="([^"]+)"/.exec((await owner.get(`/farm/lamps/${lampId}`)).body)?.[1];
    const renamed = await owner.post(`/farm/lamps/${lampId}`, { name: 'Back bars', seen, racks: [] });
    expect(renamed.location).toBe('/farm');
    expect(await bench.service.db.rack.findFirst()).toMatchObject({ lampId: null });
    expect((await owner.post(`/farm/lamps/${lampId}`, { name: 'Bars', seen, racks: [] })).status).toBe(409);
  });

  test('a system is taken out of service only once no lot stands in it', async () => {
    const ground = await layGround(bench);
    const lotId = await lot(bench, ground.siteId);
    await place(bench, lotId, [ground.slots.A1], '2026-02-01T00:00:00Z');
    const edit = { name: 'Shallow', volumeL: '1800', note: '', retired: 'yes', version: '1' };
    const refused = await owner.post(`/farm/systems/${ground.systemId}`, edit);
    expect(refused.status).toBe(409);
    expect(refused.body).toContain('One lot is still in this system.');
    await bench.service.db.placement.updateMany({ where: { lotId }, data: { toAt: benchNow } });
    expect((await owner.post(`/farm/systems/${ground.systemId}`, edit)).location).toBe('/farm');
    const system = await bench.service.db.system.findUniqueOrThrow({ where: { id: ground.systemId } });
    expect(system.retiredAt).toEqual(benchNow);
  });

  test('every change is a line in the journal', async () => {
    const kinds = (await bench.service.db.journalLine.findMany()).map((line) => line.kind);
    for (const kind of [
      'system.created',
      'tank.created',
      'rack.created',
      'lamp.created',
      'system.changed',
      'site.changed',
      'lamp.changed',
    ])
      expect(kinds).toContain(kind);
  });
});
