import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { type Ground, layGround, lot, place, survey, turn } from '../farm/ground.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let ground: Ground;
let manager: Visitor;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  ground = await layGround(bench, { rows: 1, columns: 6 });
  await turn(bench, ground.lampId, '2026-01-01T00:00:00Z', 60, { litHours: 10, rampHours: 2 });
  await survey(bench, ground, '2026-01-02T00:00:00Z', 60, {
    A1: 42,
    A2: 50,
    A3: 58,
    A4: 64,
    A5: 70,
    A6: 120,
  });
  manager = await bench.as('manager');
  hand = await bench.as('hand');
});
afterAll(() => bench.close());
beforeEach(() => bench.at(benchNow));

async function standing(name: string): Promise<{ id: string; code: string }> {
  await bench.service.db.acclimation.updateMany({ data: { endedAt: benchNow, endReason: 'Cleared' } });
  await bench.service.db.placementSlot.deleteMany();
  await bench.service.db.placement.deleteMany();
  const id = await lot(bench, ground.siteId);
  const figure = (code: string, high: number, low: number | null = null) =>
    ({ lotId: id, figure: code, low, high, basis: 'own_choice' }) as const;
  await bench.service.db.careFigure.createMany({
    data: [
      figure('step_ratio', 1.2),
      figure('dwell_days', 7),
      figure('adaptation_days', 10),
      figure('par_ceiling', 145),
      figure('flow', 3, 0),
    ],
  });
  await place(bench, id, [ground.slots[name]], '2026-05-01T00:00:00Z');
  return bench.service.db.lot.findUniqueOrThrow({ where: { id }, select: { id: true, code: true } });
}
const hidden = (body: string, name: string) =>
  new RegExp(`name="${name}" value="([^"]*)"`).exec(body)?.[1] ?? '';

async function planned(lotId: string): Promise<string> {
  const look = await manager.get(`/stock/acclimations/new?lots=${lotId}&targetPar=70&show=yes`);
  const form = { lots: lotId, targetPar: '70', received: 'here', seen: hidden(look.body, 'seen') };
  return (await manager.post('/stock/acclimations', form)).location ?? '';
}

describe('the pages of acclimations', () => {
  test('show the steps before they are planned, and plan what was looked at', async () => {
    const one = await standing('A2');
    const empty = await manager.get('/stock/acclimations');
    expect(empty.body).toContain('None runs.');
    const { body } = await manager.get(`/stock/acclimations/new?lot=${one.code}&targetPar=70&show=yes`);
    expect(body).toContain('nothing is planned yet');
    expect(body).toContain('3 steps over 14 days');
    expect(body).toContain('Window rack, A5');
    expect(await bench.service.db.acclimation.count({ where: { endedAt: null } })).toBe(0);
    const at = await planned(one.id);
    const page = await manager.get(at);
    expect(page.body).toContain(`Next: Move ${one.code} to Window rack, A3`);
    expect((await manager.get('/stock/acclimations')).body).toContain('running, 0 of 3 steps done');
  });

  test('ask which lots where none is named: those of a rack, those that came together, or by codes', async () => {
    const one = await standing('A2');
    expect((await manager.get(`/stock/acclimations/new?rack=${ground.rackId}`)).body).toContain(one.code);
    const wrong = await manager.get('/stock/acclimations/new?lot=NO-SUCH&show=yes');
    expect(wrong.body).toContain('There is no lot NO-SUCH');
  });

  test('say why nothing can be planned, with everything as typed', async () => {
    const one = await standing('A2');
    const { body } = await manager.get(
      `/stock/acclimations/new?lots=${one.id}&targetPar=150&reason=sale&show=yes`,
    );
    expect(body).toContain('can take 145');
    expect(body).toContain('value="sale"');
    const gap = await manager.get(`/stock/acclimations/new?lots=${one.id}&targetPar=120&show=yes`);
    expect(gap.body).toMatch(/No free place between \d+ and \d+/);
  });

  test('do a step, give one another place, leave one out, pause, resume, go back, end', async () => {
    const one = await standing('A2');
    const at = await planned(one.id);
    const id = at.split('/').at(-1) ?? '';
    const version = async () =>
      (await bench.service.db.acclimation.findUniqueOrThrow({ where: { id } })).version;
    const next = async () => /name="step" value="([^"]+)"/.exec((await hand.get(at)).body)?.[1] ?? '';
    const to = async (what: string, form: object) => {
      const answer = await hand.post(`${at}/${what}`, { version: await version(), ...form });
      expect(answer.status, `${what}: ${answer.body.slice(0, 2000)}`).toBe(303);
      return answer;
    };
    const other = ground.slots.A1 ?? '';
    await to('place', { step: await next(), place: other });
    await to('place', { step: await next(), place: ground.slots.A3 });
    await to('record', { step: await next() });
    await to('reversal', { backReason: 'Paling' });
    await to('pause', { pauseReason: 'Holidays' });
    expect((await hand.get(at)).body).toContain('Holidays');
    await to('resumption', { note: '' });
    await to('omission', { step: await next(), omission: 'Shaded' });
    await to('end', { endReason: 'Sold' });
    const page = await hand.get(at);
    expect(page.body).toContain('Sold');
    expect(page.body).toContain('Shaded');
    expect((await hand.post(`${at}/end`, { version: await version(), endReason: 'Again' })).status).toBe(409);
  });

  test('plan a ramp of lamps for every lot beneath', async () => {
    const one = await standing('A2');
    const ask = await manager.get(`/stock/acclimations/new?lamp=${ground.lampId}`);
    expect(ask.body).toContain(one.code);
    const { body } = await manager.get(`/stock/acclimations/new?lamp=${ground.lampId}&percent=80&show=yes`);
    expect(body).toContain('Bars to 80 %');
    const form = { lamp: ground.lampId, percent: '80', seen: hidden(body, 'seen') };
    const page = await manager.get((await manager.post('/stock/acclimations', form)).location ?? '');
    expect(page.body).toContain('Next: Turn Bars to');
  });

  test('tell the same as JSON, and plan only for the manager', async () => {
    const one = await standing('A2');
    const wish = { lots: [one.id], targetPar: 64 };
    const draft = (await hand.send('/api/acclimation-drafts', wish)).json() as { days: number; seen: string };
    expect(draft.days).toBe(7);
    expect((await hand.send('/api/acclimations', wish)).status).toBe(403);
    const made = await manager.send('/api/acclimations', { ...wish, seen: draft.seen });
    expect(made.status).toBe(201);
    const { id } = made.json() as { id: string };
    const told = (await hand.get(`/api/acclimations/${id}`)).json() as {
      next: { id: string; held: null }[];
      version: number;
    };
    expect(told.next).toHaveLength(1);
    const done = await hand.send(`/api/acclimation-steps/${told.next[0]?.id}/record`, { note: '' });
    expect(done.json()).toMatchObject({ what: `Move ${one.code} to Window rack, A3` });
  });
});
