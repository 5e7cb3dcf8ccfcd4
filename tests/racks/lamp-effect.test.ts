import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Ground, layGround, lot, place, survey, turn } from '../farm/ground.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

describe('turning lamps', () => {
  let bench: Bench;
  let hand: Visitor;
  let ground: Ground;
  beforeAll(async () => {
    bench = await startBench();
    hand = await bench.as('hand');
  });
  afterAll(() => bench.close());

  /** Two lots used to 80 at 60 %, ten hours with ramps of two; their kind takes 1.2 times in one step. */
  const fresh = async () => {
    ground = await layGround(bench);
    await turn(bench, ground.lampId, '2026-01-01T00:00:00Z', 60, { litHours: 10, rampHours: 2 });
    await survey(bench, ground, '2026-01-02T00:00:00Z', 60, 80);
    for (const slot of ['A1', 'A2']) {
      const lotId = await lot(bench, ground.siteId);
      await bench.service.db.careFigure.create({
        data: { lotId, figure: 'step_ratio', high: 1.2, basis: 'own_choice' },
      });
      await place(bench, lotId, [ground.slots[slot]], '2026-02-01T00:00:00Z');
    }
    return `/lamps/${ground.lampId}/settings`;
  };
  const ask = (percent: number, more = '') =>
    hand.get(
      `/lamps/${ground.lampId}/settings/new?percent=${percent}&litHours=10&rampHours=2&at=&note=${more}`,
    );

  test('says how many lots would get how many times what they have now, before anything is noted', async () => {
    await fresh();
    const { body } = await ask(66);
    expect(body).toContain('2 lots under them get 1.1 times the daily light they have now.');
    expect(body).toContain('On average from 80 to 88');
    expect(body).not.toContain('bleaching');
    expect(await bench.service.db.lampSetting.count({ where: { lampId: ground.lampId } })).toBe(1);
  });

  test('warns where that is more than the lots take at once, and says how far it may go', async () => {
    await fresh();
    const { body } = await ask(90);
    expect(body).toContain('1.5 times');
    expect(body).toContain('For 2 of them that is more in one step than their kind takes');
    expect(body).toContain('up to 72 % stays within the step of every lot');
  });

  test('a longer day counts as more light at the same setting', async () => {
    await fresh();
    const { body } = await hand.get(
      `/lamps/${ground.lampId}/settings/new?percent=60&litHours=14&rampHours=2&at=&note=`,
    );
    expect(body).toContain('2 lots under them get 1.5 times the daily light they have now.');
  });

  test('lots on slots that were never measured are named as unknown, not counted as safe', async () => {
    await fresh();
    await bench.service.db.lightSurvey.updateMany({
      data: { voidedAt: new Date(), voidReason: 'wet meter' },
    });
    expect((await ask(90)).body).toContain(
      '2 lots are where light was never measured: the effect on them is not known.',
    );
  });

  test('noting it scales the light beneath, sends the system to the rules and keeps the history with its hours', async () => {
    const url = await fresh();
    const answer = await hand.post(url, {
      percent: '90',
      litHours: '12',
      rampHours: '2',
      at: '',
      note: 'New pieces',
    });
    expect(answer.location).toBe(url);
    const page = await hand.get(url);
    expect(page.body).toContain('New pieces');
    expect(page.body).toContain('The hand');
    expect((await hand.get(`/racks/${ground.rackId}`)).body).toContain('≈120');
    expect(await bench.service.db.lamp.findUnique({ where: { id: ground.lampId } })).toMatchObject({
      litHours: 12,
    });
    const { rows } = await bench.service.pool.query(
      `SELECT 1 FROM pgboss.job WHERE name = 'evaluate' AND data->>'systemId' = $1`,
      [ground.systemId],
    );
    expect(rows.length).toBeGreaterThan(0);
  });

  test('noted after the fact beneath a later setting, it changes the past only and says so', async () => {
    const url = await fresh();
    await turn(bench, ground.lampId, '2026-06-01T00:00:00Z', 70, { litHours: 10, rampHours: 2 });
    const effect = await hand.get(`${url}/new?percent=65&litHours=9&rampHours=2&at=2026-05-01T10:00&note=`);
    expect(effect.body).toContain('the lamps are at 70 %, and that stays');
    await hand.post(url, { percent: '65', litHours: '9', rampHours: '2', at: '2026-05-01T10:00', note: '' });
    expect(await bench.service.db.lamp.findUnique({ where: { id: ground.lampId } })).toMatchObject({
      litHours: 10,
    });
  });

  test('ramps that do not fit are refused with everything as typed', async () => {
    await fresh();
    const answer = await hand.get(
      `/lamps/${ground.lampId}/settings/new?percent=60&litHours=4&rampHours=3&at=&note=why`,
    );
    expect(answer.status).toBe(422);
    expect(answer.body).toContain('Two ramps of that length do not fit');
    expect(answer.body).toContain('value="why"');
  });

  test('the manager takes back what was entered wrongly; the journal keeps it', async () => {
    const url = await fresh();
    await hand.post(url, { percent: '15', litHours: '8', rampHours: '2', at: '', note: '' });
    const newest = await bench.service.db.lampSetting.findFirstOrThrow({
      where: { lampId: ground.lampId },
      orderBy: { at: 'desc' },
    });
    expect((await hand.post(`${url}/${newest.id}/removal`, { reason: 'typed 15 for 51' })).status).toBe(403);
    const manager = await bench.as('manager');
    await manager.post(`${url}/${newest.id}/removal`, { reason: 'typed 15 for 51' });
    expect(await bench.service.db.lampSetting.count({ where: { lampId: ground.lampId } })).toBe(1);
    expect(await bench.service.db.lamp.findUnique({ where: { id: ground.lampId } })).toMatchObject({
      litHours: 10,
    });
    const line = await bench.service.db.journalLine.findFirstOrThrow({
      where: { kind: 'lamp_setting.removed' },
    });
    expect(line.detail).toMatchObject({ percent: 15, reason: 'typed 15 for 51' });
  });
});
