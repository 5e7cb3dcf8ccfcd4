import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Ground, layGround } from '../farm/ground.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

describe('a tank from above', () => {
  let bench: Bench;
  let owner: Visitor;
  let ground: Ground;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    owner = await bench.as('owner');
    ground = await layGround(bench);
  });
  afterAll(() => bench.close());
  const tankPage = async () => (await owner.get(`/tanks/${ground.tankId}`)).body;
  const rackForm = (more: object) => ({
    name: 'Window rack',
    rows: '2',
    columns: '3',
    depthMm: '30',
    base: 'egg_crate',
    lampId: ground.lampId,
    tankId: ground.tankId,
    ...more,
  });

  test('says that it is not to scale until somebody enters where the racks are', async () => {
    expect(await tankPage()).toContain('not to scale: nobody entered where the racks are');
  });

  test('is drawn to scale from places and slot sizes, which come in pairs', async () => {
    const form = rackForm({ leftMm: '20', backMm: '', slotWidthMm: '5', slotDepthMm: '4,5', version: '1' });
    const refused = await owner.post(`/farm/racks/${ground.rackId}`, form);
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('Enter both distances');
    expect((await owner.post(`/farm/racks/${ground.rackId}`, { ...form, backMm: '10' })).status).toBe(303);
    const page = await tankPage();
    expect(page).toContain('To scale, from above');
    // The tank is 2000 mm long and drawn 732 wide; three slots of 50 mm are 54.9 of that.
    expect(page).toContain('class="shelf" x="87.2" y="50.6" width="54.9" height="32.9"');
  });

  test('shows pumps where they are, which way they blow and when, until they are taken out', async () => {
    const pump = { name: 'Left pump', leftMm: '5', backMm: '40', facingDeg: '0', runs: 'all day', note: '' };
    const added = await owner.post('/farm/equipment', {
      ...pump,
      kind: 'wave_pump',
      systemId: ground.systemId,
      tankId: ground.tankId,
    });
    expect(added.location).toMatch(/^\/farm\/equipment\//);
    const page = await tankPage();
    expect(page).toContain('Pump 1: Left pump');
    expect(page).toContain('to the right');
    expect(page).toContain('all day');
    const { id } = await bench.service.db.equipment.findFirstOrThrow({ where: { kind: 'wave_pump' } });
    const wrong = await owner.post(`/farm/equipment/${id}`, {
      ...pump,
      tankId: ground.tankId,
      facingDeg: '400',
      version: '1',
    });
    expect(wrong.status).toBe(422);
    await owner.post(`/farm/equipment/${id}`, {
      ...pump,
      tankId: ground.tankId,
      removed: 'yes',
      version: '1',
    });
    expect(await tankPage()).toContain('No pumps are noted in this tank.');
  });
});
