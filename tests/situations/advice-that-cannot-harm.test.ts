import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Alert, openAlerts } from '../../src/alerts/alerts.ts';
import type { ConditionState } from '../../src/generated/prisma/enums.ts';
import { noteCondition } from '../../src/stock/lots/conditions.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Ground, layGround, lot, place, survey, turn } from '../farm/ground.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// Advice of several alerts on one water, read as a person reads it: on the pages. What each should say is practice of
// growers and the order of first steps that emergencies follow everywhere: people, oxygen, the source, keeping apart, then
// measuring and correcting. The readings are made up.

let bench: Bench;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hand = await bench.as('manager');
});
afterAll(() => bench.close());

async function stand(ground: Ground, kindName: string, slot: string, since: string): Promise<string> {
  const { db } = bench.service;
  const kind = await db.kind.findFirstOrThrow({ where: { name: kindName } });
  const id = await lot(bench, ground.siteId);
  await db.lot.update({ where: { id }, data: { kindId: kind.id } });
  await place(bench, id, [ground.slots[slot]], since);
  return id;
}

const look = (lotId: string, at: string, state: ConditionState, grade: 1 | 2 | 3 | null = null, note = '') =>
  bench.change((work) => noteCondition(work, { lotId, at: new Date(at), state, grade, note }));

async function enter(ground: Ground, at: string, quantityCode: string, text: string, more: object = {}) {
  bench.at(at);
  const reading = { quantityCode, text, sure: true, ...more };
  const answer = await hand.send('/api/readings', {
    systemId: ground.systemId,
    at: at.slice(0, 16),
    readings: [reading],
  });
  expect(answer.status, answer.body).toBe(201);
}

async function openOn(ground: Ground, at: string): Promise<Alert[]> {
  bench.at(at);
  await evaluateSystems(bench.service, [ground.systemId], new Date(at));
  return openAlerts(bench.service.pool, { systemId: ground.systemId });
}

const of = (alerts: Alert[], rule: string, subjectId?: string): Alert => {
  const found = alerts.find((one) => one.rule === rule && (subjectId ?? one.subjectId) === one.subjectId);
  if (found === undefined)
    throw new Error(`no ${rule} among ${alerts.map((one) => `${one.rule} ${one.facet}`).join(', ')}`);
  return found;
};

const first = (alerts: Alert[], rule: string, subjectId?: string): string =>
  of(alerts, rule, subjectId).finding.firstStep;

const brain = 'Platygyra daedalea';
const keep = (ground: Ground, quantityCode: string, bandLow: number | null, bandHigh: number | null) =>
  bench.service.db.systemQuantity.create({
    data: { systemId: ground.systemId, quantityCode, bandLow, bandHigh },
  });

/** Five weeks of water without food, as the last tests say. */
async function starved(ground: Ground, nitrate = '0.2', phosphate = '0.00', more: object = {}) {
  for (const day of ['10-20', '10-28', '11-05', '11-12', '11-19']) {
    await enter(ground, `2026-${day}T08:00:00Z`, 'nitrate', nitrate, more);
    await enter(ground, `2026-${day}T08:05:00Z`, 'phosphate', phosphate);
  }
}

/** Light over the rack, the same since summer. */
async function lit(ground: Ground, par: number) {
  await turn(bench, ground.lampId, '2026-05-01T00:00:00Z', 60);
  await survey(bench, ground, '2026-06-01T10:00:00Z', 60, par);
}

const dimmer = /dimmer place|turn the lamps down/i;
const moved = /\bmove it\b|set them apart/i;

describe('a lot that pales is weighed by light, food, heat and water before it is moved', () => {
  test('a branching coral in less light than its kind is kept at, in starved water, is fed first and left where it stands', async () => {
    const ground = await layGround(bench);
    await lit(ground, 86);
    const id = await stand(ground, 'Acropora tenuis', 'A1', '2026-06-02T10:00:00Z');
    await starved(ground);
    await look(id, '2026-11-20T08:00:00Z', 'paling', 1);
    const alerts = await openOn(ground, '2026-11-20T09:00:00Z');
    const paling = first(alerts, 'condition-noted');
    expect(paling).toContain('Look to food first');
    expect(paling).not.toMatch(dimmer);
    expect(paling).not.toMatch(moved);
    const dim = of(alerts, 'too-little-light').finding;
    expect(dim.firstStep).toMatch(/^Leave it where it is until “.*paling.*” is over/);
    expect(dim.firstStep).not.toMatch(moved);
    expect(dim.later).toContain('by steps it can follow');
    expect(first(alerts, 'nitrate-level')).toMatch(/^Feed more first/);
    const { code } = await bench.service.db.lot.findUniqueOrThrow({ where: { id } });
    for (const page of [`/stock/${code}`, `/racks/${ground.rackId}`, '/']) {
      const { status, body } = await hand.get(page);
      expect(status, page).toBe(200);
      expect(body, page).not.toMatch(dimmer);
    }
    expect((await hand.get(`/stock/${code}`)).body).toMatch(/Look to food first/);
  });

  test('a brain coral that stood for weeks in light that suits it, in poor water, is told of food and not of shade', async () => {
    const ground = await layGround(bench);
    await lit(ground, 60);
    const id = await stand(ground, brain, 'A1', '2026-10-26T10:00:00Z');
    await enter(ground, '2026-11-18T08:00:00Z', 'nitrate', '0.2');
    await enter(ground, '2026-11-18T08:05:00Z', 'phosphate', '0.00');
    await look(id, '2026-11-20T08:00:00Z', 'paling', 2);
    const step = first(await openOn(ground, '2026-11-20T09:00:00Z'), 'condition-noted');
    expect(step).toContain('Look to food first');
    expect(step).toContain('nitrate read 0.2');
    expect(step).not.toMatch(dimmer);
  });

  test('one that stands too bright in fed water is still told of a dimmer place', async () => {
    const ground = await layGround(bench);
    await lit(ground, 260);
    const id = await stand(ground, brain, 'A1', '2026-06-02T10:00:00Z');
    await enter(ground, '2026-11-18T08:00:00Z', 'nitrate', '8');
    await look(id, '2026-11-20T08:00:00Z', 'paling', 2);
    expect(first(await openOn(ground, '2026-11-20T09:00:00Z'), 'condition-noted')).toMatch(dimmer);
  });

  test('where its light was never measured it is measured before anything is moved', async () => {
    const ground = await layGround(bench);
    const id = await stand(ground, brain, 'A1', '2026-06-02T10:00:00Z');
    await look(id, '2026-11-20T08:00:00Z', 'paling', 2);
    const step = first(await openOn(ground, '2026-11-20T09:00:00Z'), 'condition-noted');
    expect(step).toMatch(/^Measure the light at its place before it is moved/);
    expect(step).not.toMatch(dimmer);
  });

  test('in water that is too warm the heat comes first', async () => {
    const ground = await layGround(bench);
    await lit(ground, 80);
    await keep(ground, 'temperature', 24, 26);
    const id = await stand(ground, brain, 'A1', '2026-06-02T10:00:00Z');
    for (const hour of ['06', '07', '08'])
      await enter(ground, `2026-11-20T${hour}:00:00Z`, 'temperature', '28.6');
    await look(id, '2026-11-20T08:30:00Z', 'paling', 2);
    const step = first(await openOn(ground, '2026-11-20T09:00:00Z'), 'condition-noted');
    expect(step).toMatch(/See to the heat first: 28\.6/);
    expect(step).not.toMatch(dimmer);
  });

  test('one that was set dimmer after the first sign is left there', async () => {
    const ground = await layGround(bench);
    await turn(bench, ground.lampId, '2026-05-01T00:00:00Z', 60);
    await survey(bench, ground, '2026-06-01T10:00:00Z', 60, {
      A1: 320,
      A2: 300,
      A3: 210,
      B1: 100,
      B2: 90,
      B3: 90,
    });
    const id = await lot(bench, ground.siteId);
    const kind = await bench.service.db.kind.findFirstOrThrow({ where: { name: brain } });
    await bench.service.db.lot.update({ where: { id }, data: { kindId: kind.id } });
    await place(bench, id, [ground.slots.A1], '2026-06-02T10:00:00Z', '2026-11-17T10:00:00Z');
    await place(bench, id, [ground.slots.A3], '2026-11-17T10:00:00Z');
    await look(id, '2026-11-16T08:00:00Z', 'paling', 2);
    await look(id, '2026-11-20T08:00:00Z', 'paling', 2);
    const step = first(await openOn(ground, '2026-11-20T09:00:00Z'), 'condition-noted');
    expect(step).toMatch(/^Leave it where it is/);
    expect(step).not.toMatch(/move it/i);
  });
});

describe('what rests on a kit that is not to be relied on', () => {
  test('five zeros of a kit that reads low ask for the kit to be checked, not for more food', async () => {
    const ground = await layGround(bench);
    const method = await bench.service.db.method.findFirstOrThrow({
      where: { quantityCode: 'nitrate', isDefault: true },
    });
    const kit = await bench.service.db.kit.create({
      data: { id: randomUUID(), methodId: method.id, label: 'Nitrate 3', openedAt: new Date('2026-10-01') },
    });
    for (const value of ['6', '6', '5', '6', '6']) {
      bench.at('2026-11-18T09:00:00Z');
      const check = { standard: '10', value, unit: 'mg/L', at: '2026-11-18T08:00', note: '' };
      const answer = await hand.post(`/water/kits/${kit.id}/checks`, check);
      expect(answer.status, answer.body).toBe(303);
    }
    await starved(ground, '0', '0.08', { kitId: kit.id, methodId: method.id });
    const id = await stand(ground, brain, 'A1', '2026-06-02T10:00:00Z');
    await lit(ground, 80);
    await look(id, '2026-11-20T08:00:00Z', 'paling', 1);
    const alerts = await openOn(ground, '2026-11-20T09:00:00Z');
    expect(of(alerts, 'kit-biased').title).toContain('Nitrate 3');
    const hungry = of(alerts, 'nitrate-level').finding;
    expect(hungry.firstStep).toMatch(/^Check the kit first: “Nitrate 3/);
    expect(hungry.firstStep).not.toMatch(/feed more/i);
    expect(hungry.later).toMatch(/feed more/i);
    expect(first(alerts, 'condition-noted')).toContain('Check the kit first');
    expect(first(alerts, 'condition-noted')).not.toMatch(/feed small foods/i);
  });

  test('a level that a kit past its date reads is not corrected before another kit was tried', async () => {
    const ground = await layGround(bench);
    await keep(ground, 'calcium', 400, 450);
    const method = await bench.service.db.method.findFirstOrThrow({
      where: { quantityCode: 'calcium', isDefault: true },
    });
    const data = {
      id: randomUUID(),
      methodId: method.id,
      label: 'Calcium 1',
      openedAt: new Date('2026-06-01'),
    };
    const kit = await bench.service.db.kit.create({ data: { ...data, expiresOn: new Date('2026-10-31') } });
    for (const day of ['17', '18', '19', '20'])
      await enter(ground, `2026-11-${day}T08:00:00Z`, 'calcium', '330', {
        kitId: kit.id,
        methodId: method.id,
      });
    const { firstStep, later } = of(await openOn(ground, '2026-11-20T09:00:00Z'), 'out-of-band').finding;
    expect(firstStep).toContain('Check the kit first: “Calcium 1”');
    expect(firstStep).not.toContain('plan a correction');
    expect(later).toContain('20 to 30 mg/L a day');
  });
});

describe('flesh that goes within hours', () => {
  test('that doubled in 30 hours, with a smell, is act now: kept apart, tested, photographed after 12 hours', async () => {
    const ground = await layGround(bench);
    const id = await stand(ground, brain, 'A1', '2026-06-02T10:00:00Z');
    await look(id, '2026-11-18T02:00:00Z', 'receding', 1);
    await look(id, '2026-11-19T08:00:00Z', 'receding', 2, 'Twice as much, and it smells');
    const alert = of(await openOn(ground, '2026-11-19T08:05:00Z'), 'condition-noted');
    expect(alert.severity).toBe('now');
    expect(alert.finding.firstStep).toMatch(/^Act now: take it into water of its own/);
    expect(alert.finding.firstStep).not.toContain('compare tomorrow');
    expect(alert.finding.why).toContain('30 hours before');
    expect((await hand.get(`/watch/${alert.id}`)).body).toContain('take it into water of its own');
  });

  test('a little flesh that was gone for weeks is compared, not cut', async () => {
    const ground = await layGround(bench);
    const id = await stand(ground, brain, 'A1', '2026-06-02T10:00:00Z');
    await look(id, '2026-10-20T08:00:00Z', 'receding', 1);
    await look(id, '2026-11-19T08:00:00Z', 'receding', 1);
    const alert = of(await openOn(ground, '2026-11-19T08:05:00Z'), 'condition-noted');
    expect(alert.severity).toBe('today');
    expect(alert.finding.firstStep).toContain('compare tomorrow');
  });

  test('of unrelated lots in one water is one alert on the system, with tests to make and what is kept apart today', async () => {
    const ground = await layGround(bench, { rows: 3, columns: 9 });
    await bench.service.db.rack.update({
      where: { id: ground.rackId },
      data: { slotWidthMm: 300, slotDepthMm: 300 },
    });
    const lots = [
      await stand(ground, brain, 'A1', '2026-06-02T10:00:00Z'),
      await stand(ground, 'Porites cylindrica', 'A9', '2026-06-02T10:00:00Z'),
    ];
    await enter(ground, '2026-11-19T07:00:00Z', 'salinity', '35');
    await look(lots[0] ?? '', '2026-11-17T08:00:00Z', 'receding', 1);
    await look(lots[1] ?? '', '2026-11-19T08:00:00Z', 'receding', 1);
    const alerts = await openOn(ground, '2026-11-19T08:05:00Z');
    const water = of(alerts, 'tissue-loss');
    expect(water).toMatchObject({ subjectType: 'system', severity: 'today', causeId: null });
    expect(water.finding.firstStep).toMatch(/^Isolate today/);
    expect(water.finding.firstStep).toMatch(/Test now: alkalinity, temperature, pH, total ammonia/);
    expect(water.finding.firstStep).not.toMatch(/Test now:[^.]*salinity/);
    for (const id of lots) {
      expect(of(alerts, 'condition-noted', id).causeId).toBe(water.id);
      expect(first(alerts, 'condition-noted', id)).toMatch(/^Isolate it today/);
      expect(first(alerts, 'condition-noted', id)).not.toContain('compare tomorrow');
    }
    expect((await hand.get(`/watch/${water.id}`)).body).toContain('2 lots lose flesh within days');

    await look(lots[1] ?? '', '2026-11-20T08:00:00Z', 'receding', 3);
    expect(of(await openOn(ground, '2026-11-20T08:05:00Z'), 'tissue-loss').severity).toBe('now');
  });

  test.each(['set apart', 'lost'])(
    'stays a matter of the water when one of them is %s, as the others stand in it still',
    async (how) => {
      const ground = await layGround(bench, { rows: 3, columns: 9 });
      await bench.service.db.rack.update({
        where: { id: ground.rackId },
        data: { slotWidthMm: 300, slotDepthMm: 300 },
      });
      const gone = await stand(ground, brain, 'A1', '2026-06-02T10:00:00Z');
      const left = await stand(ground, 'Porites cylindrica', 'A9', '2026-06-02T10:00:00Z');
      await look(gone, '2026-11-17T08:00:00Z', 'receding', 1);
      await look(left, '2026-11-19T08:00:00Z', 'receding', 1);
      const { id } = of(await openOn(ground, '2026-11-19T08:05:00Z'), 'tissue-loss');
      if (how === 'set apart') {
        const apart = await layGround(bench);
        const at = '2026-11-19T09:00:00Z';
        const { placement } = bench.service.db;
        await placement.updateMany({ where: { lotId: gone, toAt: null }, data: { toAt: new Date(at) } });
        await place(bench, gone, [apart.slots.A1], at);
      } else {
        const { pieces } = await bench.service.db.lot.findUniqueOrThrow({ where: { id: gone } });
        const sent = {
          state: 'lost',
          lostPieces: String(pieces),
          cause: 'flesh_gone',
          at: '2026-11-19T09:00',
        };
        bench.at('2026-11-19T10:00:00Z');
        expect((await hand.post(`/lots/${gone}/conditions`, sent)).status).toBe(303);
      }
      const alerts = await openOn(ground, '2026-11-19T12:00:00Z');
      expect(of(alerts, 'tissue-loss')).toMatchObject({ id, causeId: null });
      expect(of(alerts, 'tissue-loss').finding.numbers).toContain('gone from');
      expect(of(alerts, 'tissue-loss').finding.status).toBe('fires');
      expect(first(alerts, 'condition-noted', left)).toMatch(/^Isolate it today/);
      // After a week without another one the water is no longer told of for one that is gone.
      await openOn(ground, '2026-11-28T12:00:00Z');
      const later = await openOn(ground, '2026-11-30T13:00:00Z');
      expect(later.map(({ rule }) => rule)).not.toContain('tissue-loss');
    },
  );

  test('of two pieces of one colony is a matter of the lots', async () => {
    const ground = await layGround(bench, { rows: 1, columns: 9 });
    const mother = await stand(ground, brain, 'A1', '2026-06-02T10:00:00Z');
    const cut = await stand(ground, brain, 'A9', '2026-06-02T10:00:00Z');
    await bench.service.db.lot.update({ where: { id: cut }, data: { parentId: mother } });
    for (const id of [mother, cut]) await look(id, '2026-11-19T08:00:00Z', 'receding', 1);
    const alerts = await openOn(ground, '2026-11-19T08:05:00Z');
    expect(alerts.map(({ rule }) => rule)).not.toContain('tissue-loss');
  });
});

describe('while the water is dangerous', () => {
  test.each([
    [
      'temperature',
      '11.8',
      /^Switch the circuit off.*Turn air and pumps on.* before you heat.*1 °C an hour up to 18 °C\. Do not go by 1 °C a day/,
    ],
    ['temperature', '32.4', /0\.5 to 1 °C an hour down to 29 °C.*Read it every 30 minutes/],
    ['salinity', '24', /by 1 an hour up to 28.*Go on slowly from 28: 1 to 2 a day/],
    ['salinity', '41', /by 1 in 1 to 2 hours down to 37/],
    ['alkalinity', '5.2', /0\.5 dKH a step, 2 hours or more between.*at most 2 dKH in the first 24 hours/],
    ['alkalinity', '15.5', /Do not force it down.*1, 6, 24, 48 and 96 hours/],
    ['ph', '9.4', /gloves and goggles.*to 8\.5 within 1 to 2 hours, not lower.*every 15 minutes/],
    ['ph', '7.2', /outside air.*Add no buffer/],
    ['oxygen', '3.1', /^Turn air stones on.*no upper rate/],
    ['copper', '80', /^If something electric.*Stop the top-up and take the metal out/],
  ])('%s %s says its own order, its own fast rate and the next test', async (code, value, words) => {
    const ground = await layGround(bench);
    for (const minute of ['00', '20', '40']) await enter(ground, `2026-11-20T07:${minute}:00Z`, code, value);
    const alert = of(await openOn(ground, '2026-11-20T08:00:00Z'), 'out-of-band');
    expect(alert.severity).toBe('now');
    expect(alert.finding.firstStep).toMatch(words);
    expect(alert.finding.firstStep).not.toContain('at most 1 °C a day');
  });

  test('a lot that stands wrong is not moved, and its alert says until when', async () => {
    const ground = await layGround(bench);
    await lit(ground, 260);
    const bright = await stand(ground, brain, 'A1', '2026-06-02T10:00:00Z');
    await bench.service.db.slot.update({ where: { id: ground.slots.B3 as string }, data: { flow: 'high' } });
    const strong = await stand(ground, brain, 'B3', '2026-06-02T10:00:00Z');
    const calm = await openOn(ground, '2026-11-20T06:00:00Z');
    expect(first(calm, 'too-much-light', bright)).toMatch(/^Move it/);
    expect(first(calm, 'flow-unsuited', strong)).toMatch(/^Move it/);
    for (const minute of ['00', '20', '40'])
      await enter(ground, `2026-11-20T07:${minute}:00Z`, 'temperature', '12.0');
    const cold = await openOn(ground, '2026-11-20T08:00:00Z');
    for (const [rule, id] of [
      ['too-much-light', bright],
      ['flow-unsuited', strong],
    ] as const) {
      const { firstStep, later } = of(cold, rule, id).finding;
      expect(firstStep).toMatch(
        /^Leave it where it is.*until “Shallow: temperature is below the safe range” is over/,
      );
      expect(firstStep).not.toMatch(moved);
      expect(later).toMatch(/^Move it/);
    }
    const page = (await hand.get(`/watch/${of(cold, 'too-much-light', bright).id}`)).body;
    expect(page).toContain('Later');

    const steps = cold.flatMap(({ finding }) => finding.advice.filter(({ waits }) => waits !== true));
    expect(steps.some(({ acts }) => acts.some(({ lever }) => lever === 'air'))).toBe(true);
    expect(
      steps.filter(({ phase, acts }) => phase !== 'source' && acts.some((a) => a.lever === 'place')),
    ).toEqual([]);
  });

  test('alkalinity that is low because the water is thinned waits for the salt, with all that is said of dosing it', async () => {
    const ground = await layGround(bench);
    await keep(ground, 'alkalinity', 2.9, 3.2);
    for (const minute of ['00', '20', '40']) {
      await enter(ground, `2026-11-20T07:${minute}:00Z`, 'salinity', '25.5');
      await enter(ground, `2026-11-20T07:${minute}:30Z`, 'alkalinity', '5.6');
    }
    const alerts = await openOn(ground, '2026-11-20T08:00:00Z');
    const low = alerts.find(({ rule, facet }) => rule === 'out-of-band' && facet === 'alkalinity')?.finding;
    expect(low?.firstStep).toContain('Dose and correct nothing for this until');
    expect(low?.firstStep).not.toMatch(/do not stop it|after each step|Start it again/);
    expect(low?.later).toMatch(
      /Start it again at the last known use, and do not stop it.*2 hours after each step/,
    );
    const title = 'Shallow: salinity is below the safe range';
    const system = `/water/systems/${ground.systemId}`;
    for (const page of [`${system}/demand`, `${system}/corrections/new?quantity=alkalinity`])
      expect((await hand.get(page)).body, page).toMatch(
        new RegExp(`Not now</span> Dose no more of it than is usual. See “<a href="/watch/[^"]+">${title}`),
      );
    const demand = (await hand.get(`/api/systems/${ground.systemId}/demand`)).json() as {
      quantities: { quantityCode: string; heldBackBy: { title: string }[] }[];
    };
    expect(demand.quantities.find((one) => one.quantityCode === 'alkalinity')?.heldBackBy[0]?.title).toBe(
      title,
    );
    expect(demand.quantities.find((one) => one.quantityCode === 'nitrate')?.heldBackBy).toEqual([]);
  });

  test('with ammonia in it the food stops and no pH is raised, whatever else is told', async () => {
    const ground = await layGround(bench);
    await keep(ground, 'ph', 7.9, 8.4);
    await starved(ground, '0.1', '0.05');
    for (const minute of ['00', '20', '40']) {
      await enter(ground, `2026-11-20T07:${minute}:00Z`, 'ammonia', '2.4');
      await enter(ground, `2026-11-20T07:${minute}:30Z`, 'ph', '7.6');
    }
    const alerts = await openOn(ground, '2026-11-20T08:00:00Z');
    expect(first(alerts, 'ammonia')).toMatch(/^Turn air on, keep pumps running.*stop feeding.*Raise no pH/);
    expect(first(alerts, 'nitrate-level')).not.toMatch(/feed more/i);
    const ph = alerts.find(({ rule, facet }) => rule === 'out-of-band' && facet === 'ph')?.finding;
    expect(ph?.firstStep).not.toContain('air the room and the water');

    const page = (await hand.get(`/water/systems/${ground.systemId}`)).body;
    const list = /First things first<\/h2>\s*<ol>(.*?)<\/ol>/s.exec(page)?.[1] ?? '';
    const lines = list.split('<li>').slice(1);
    expect(lines[0]).toContain('Turn air on, keep pumps running');
    expect(lines.length).toBeLessThanOrEqual(7);
    for (const line of lines) expect(line).toMatch(/href="\/watch\/[0-9a-f-]{36}"/);
  });
});

describe('a cause comes before its effect', () => {
  test('the move that was made to rescue a lot is not named as what made it ill', async () => {
    const ground = await layGround(bench);
    await lit(ground, 80);
    const id = await lot(bench, ground.siteId);
    await place(bench, id, [ground.slots.A1], '2026-03-02T10:00:00Z', '2026-11-18T10:00:00Z');
    await place(bench, id, [ground.slots.B2], '2026-11-18T10:00:00Z');
    await look(id, '2026-11-01T08:00:00Z', 'well');
    await look(id, '2026-11-15T08:00:00Z', 'receding', 1);
    await look(id, '2026-11-20T08:00:00Z', 'receding', 1);
    const { figures } = of(await openOn(ground, '2026-11-20T09:00:00Z'), 'condition-noted').finding;
    expect(figures.map(({ text }) => text).join(' ')).not.toContain('set on');
  });

  test('a pump that stood is looked for before the first sign, and what came after the last good look is possible only', async () => {
    const ground = await layGround(bench);
    const { db } = bench.service;
    const id = await stand(ground, brain, 'A1', '2026-03-02T10:00:00Z');
    const off = (offAt: string, onAt: string, what: string) =>
      db.switchedOff.create({
        data: {
          systemId: ground.systemId,
          thing: 'wave_pump',
          what,
          why: 'cleaned',
          offAt: new Date(offAt),
          dueAt: new Date(onAt),
          lateAt: new Date(onAt),
          onReturn: '',
          seenRunningAt: new Date(onAt),
        },
      });
    await off('2026-11-08T08:00:00Z', '2026-11-08T20:00:00Z', 'Wave pump left');
    await off('2026-11-12T08:00:00Z', '2026-11-12T20:00:00Z', 'Wave pump right');
    await off('2026-11-17T08:00:00Z', '2026-11-17T20:00:00Z', 'Wave pump rear');
    await look(id, '2026-11-10T08:00:00Z', 'well');
    await look(id, '2026-11-15T08:00:00Z', 'receding', 1);
    const { figures } = of(await openOn(ground, '2026-11-20T09:00:00Z'), 'condition-noted').finding;
    const changed = figures.find(({ label }) => label.startsWith('Changed before'))?.text ?? '';
    expect(changed).toContain('Wave pump left off for 12 h, 8 Nov 2026');
    expect(changed).toMatch(
      /Wave pump right off for 12 h, 12 Nov 2026 \(possible: after it was last seen well\)/,
    );
    expect(changed).not.toContain('rear');
  });

  test('lamps that were turned up after a lot was first seen pale are not its cause', async () => {
    const ground = await layGround(bench);
    await turn(bench, ground.lampId, '2026-05-01T00:00:00Z', 40);
    await survey(bench, ground, '2026-06-01T10:00:00Z', 40, 60);
    const ids = [
      await stand(ground, brain, 'A1', '2026-06-02T10:00:00Z'),
      await stand(ground, brain, 'A2', '2026-06-02T10:00:00Z'),
    ];
    for (const id of ids) await look(id, '2026-11-15T08:00:00Z', 'paling', 1);
    await turn(bench, ground.lampId, '2026-11-18T08:00:00Z', 90);
    for (const id of ids) await look(id, '2026-11-20T08:00:00Z', 'paling', 1);
    const alerts = await openOn(ground, '2026-11-20T09:00:00Z');
    const lamp = alerts.find(({ subjectType }) => subjectType === 'lamp');
    expect(lamp?.finding.numbers ?? '').not.toContain('show it');
    expect(JSON.stringify(of(alerts, 'condition-noted', ids[0]).finding.figures)).not.toContain('lamps from');
  });
});

test('alkalinity that comes down after too much was dosed is not told as a fall to be made good', async () => {
  const ground = await layGround(bench);
  await keep(ground, 'alkalinity', 2.5, 3.21); // 7.0 to 9.0 dKH
  for (const day of ['10', '12', '14', '16', '18'])
    await enter(ground, `2026-11-${day}T08:00:00Z`, 'alkalinity', '8.2');
  await enter(ground, '2026-11-20T08:00:00Z', 'alkalinity', '11.4');
  await enter(ground, '2026-11-20T08:20:00Z', 'alkalinity', '11.3');
  await hand.post('/farm/switched-off', {
    systemId: ground.systemId,
    pick: 'thing:doser',
    why: 'Overdose',
    minutes: '720',
  });
  await enter(ground, '2026-11-20T18:00:00Z', 'alkalinity', '10.6');
  const alerts = await openOn(ground, '2026-11-20T18:30:00Z');
  expect(of(alerts, 'out-of-band').title).toContain('above its band');
  expect(alerts.map(({ rule }) => rule)).not.toContain('alkalinity-falling');
});

describe('a large water change is looked at before it is kept, as a dose is', () => {
  const change = (ground: Ground, more: object) =>
    hand.send('/api/water-changes', { systemId: ground.systemId, amount: 60, unit: '%', ...more });
  const refused = (answer: { status: number; json(): unknown }): string => {
    expect(answer.status).toBe(422);
    return JSON.stringify(answer.json());
  };

  test('with water that nobody tested it asks what it holds, on the form and by program, and is kept with a reason', async () => {
    const ground = await layGround(bench);
    await enter(ground, '2026-11-20T07:00:00Z', 'salinity', '35');
    const words = refused(await change(ground, {}));
    expect(words).toMatch(/60 % is a large part of the water/);
    expect(words).toContain('The new water’s alkalinity, salinity and temperature are not known');
    const url = `/water/systems/${ground.systemId}/water-changes`;
    const asked = await hand.post(url, { amount: '60', unit: '%', look: 'yes' });
    expect(asked.body).toContain('Test the new water before it goes in');
    expect(asked.body).toContain('Why it is right, or how it happened');
    expect(await bench.service.db.waterChange.count({ where: { systemId: ground.systemId } })).toBe(0);
    expect((await change(ground, { note: 'Copper', reason: 'A coin lay in the sump' })).status).toBe(201);
    expect((await hand.get(url)).body).toContain('Copper A coin lay in the sump');
    expect((await change(ground, { amount: 10 })).status).toBe(201);
  });

  test('with water that is known it says where it leads, and asks where that is further than a day may go', async () => {
    const ground = await layGround(bench);
    const makeUp = (quantityCode: string, value: number) =>
      bench.service.db.systemQuantity.create({
        data: { systemId: ground.systemId, quantityCode, makeUp: value },
      });
    await makeUp('salinity', 35);
    await makeUp('alkalinity', 4); // 11.2 dKH
    await enter(ground, '2026-11-20T07:00:00Z', 'salinity', '35');
    await enter(ground, '2026-11-20T07:01:00Z', 'alkalinity', '7.0');
    await enter(ground, '2026-11-20T07:02:00Z', 'temperature', '25');
    // A mixture holds its parts in proportion: 0.4 x 7.0 + 0.6 x 11.2 = 9.5 dKH; 0.4 x 25 + 0.6 x 20 = 22 °C.
    const words = refused(await change(ground, { temperature: 20 }));
    expect(words).toContain('It brings alkalinity from 7.0 dKH to about 9.5 dKH');
    expect(words).toContain('That moves temperature by 3.0 °C at once');
    expect(words).not.toContain('not known');
    // 0.85 x 7.0 + 0.15 x 11.2 = 7.6 dKH; 0.85 x 25 + 0.15 x 24 = 24.9 °C.
    const small = await change(ground, { amount: 15, temperature: 24 });
    expect(small.status).toBe(201);
    expect(small.json()).toMatchObject({
      says: expect.stringContaining('alkalinity from 7.0 dKH to about 7.6'),
    });
  });

  test('by purified water it is asked about though nothing was ever read here', async () => {
    const ground = await layGround(bench);
    expect(refused(await change(ground, { amount: 20, water: 'purified' }))).toContain(
      'It lowers salinity by 20 % of what it is',
    );
  });

  test('a farm that changes as much each week is not asked each week', async () => {
    const ground = await layGround(bench);
    for (const at of ['2026-10-01', '2026-10-08', '2026-10-15'])
      expect((await change(ground, { amount: 50, at: `${at}T08:00`, reason: 'Our way' })).status).toBe(201);
    expect((await change(ground, { amount: 50, at: '2026-10-22T08:00' })).status).toBe(201);
  });
});

describe('on the pages of what is wrong now', () => {
  test('a person hurt: lots that may hold palytoxin are named by kind and by identification, and what is not known is said', async () => {
    const { db } = bench.service;
    const ground = await layGround(bench, { name: 'R9' });
    const kindOf = async (name: string) => (await db.kind.findFirstOrThrow({ where: { name } })).id;
    const codeOf = async (id: string) => (await db.lot.findUniqueOrThrow({ where: { id } })).code;
    const stand = async (kind: string, slot: string | null) => {
      const id = await lot(bench, ground.siteId);
      await db.lot.update({ where: { id }, data: { kindId: await kindOf(kind) } });
      if (slot !== null) await place(bench, id, [ground.slots[slot]], '2026-06-02T10:00:00Z');
      return id;
    };
    const url = `/emergencies/events/person?system=${ground.systemId}`;
    expect((await hand.get(url)).body).toContain(
      'No lot here is known to hold palytoxin. One that nobody identified may.',
    );
    const kind = await codeOf(await stand('Zoanthus sociatus', 'A1'));
    const named = await stand('Acropora tenuis', 'A2');
    await db.lot.update({ where: { id: named }, data: { tradeName: 'Green paly' } });
    const plain = await codeOf(await stand('Acropora tenuis', 'A3'));
    await stand('Zoanthus sociatus', null);
    const { body } = await hand.get(url);
    expect(body).toContain(`${kind} Zoanthus sociatus (R9)`);
    expect(body).toContain(`${await codeOf(named)} Green paly (R9)`);
    expect(body).not.toContain(plain);
    expect(body).toContain('1 lot that may hold it has no place noted');
    const { body: tissue } = await hand.get(`/emergencies/events/tissue?system=${ground.systemId}`);
    expect(tissue).toContain(`${kind} Zoanthus sociatus`);
  });
});

describe('the fast way is one table', () => {
  const rates: [code: string, value: string, event: string, words: RegExp][] = [
    [
      'alkalinity',
      '5.2',
      'alkalinity',
      /0\.5 dKH a step, 2 hours or more between.*at most 2 dKH in the first 24 hours/,
    ],
    ['salinity', '25', 'salinity', /by 1 an hour up to 28/i],
  ];
  test.each(rates)(
    '%s %s: the alert, the correction and the emergency page say the same',
    async (code, value, event, words) => {
      const ground = await layGround(bench);
      for (const minute of ['00', '20', '40'])
        await enter(ground, `2026-11-20T07:${minute}:00Z`, code, value);
      const alerts = await openOn(ground, '2026-11-20T08:00:00Z');
      expect(first(alerts, 'out-of-band')).toMatch(words);
      const plan = await hand.get(`/water/systems/${ground.systemId}/corrections/new?quantity=${code}`);
      expect(plan.body).toContain('Act now, before any plan');
      expect(plan.body).toMatch(words);
      expect((await hand.get(`/emergencies/events/${event}?system=${ground.systemId}`)).body).toMatch(words);
    },
  );
});

test('a lot that recedes in water where a pest was seen on another is looked at with a lens first', async () => {
  const ground = await layGround(bench);
  const seen = await stand(ground, 'Acropora tenuis', 'A1', '2026-06-02T10:00:00Z');
  const near = await stand(ground, 'Acropora tenuis', 'A2', '2026-06-02T10:00:00Z');
  await look(near, '2026-11-20T08:00:00Z', 'receding', 2);
  expect(first(await openOn(ground, '2026-11-20T08:30:00Z'), 'condition-noted', near)).not.toContain('lens');
  await look(seen, '2026-11-20T09:00:00Z', 'pest', 2, 'flatworms');
  const step = first(await openOn(ground, '2026-11-20T09:30:00Z'), 'condition-noted', near);
  expect(step).toMatch(/^Look at it with a lens first\. A pest was seen in this water: /);
});
