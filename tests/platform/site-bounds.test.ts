import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { isOpen } from '../../src/platform/web/access.ts';
import { routeAccess } from '../../src/route-access.ts';
import { begin, type Hall, makeHall, planRound } from '../rounds/hall.ts';
import { type Route, routesOf } from '../support/routes.ts';
import { type Answer, type Bench, startBench, type Visitor } from '../support/service.ts';

// Two sites in one database. Pages are about the first. Of the second nothing is shown and nothing changed, whoever asks
// and however its things are named.

let bench: Bench;
let far: Hall;
/** What belongs to the second site, by kind. */
let ids: Record<string, string>;
/** Texts that stand nowhere but in the second site. */
let marks: string[];
let routes: Route[];

/** Stands in every text that somebody typed at the second site. */
const mark = 'Zzyx harbour';

beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeHall(bench);
  far = await makeHall(bench, { apart: true });
  ids = await fill(far);
  const { db } = bench.service;
  const { name } = await db.system.findUniqueOrThrow({ where: { id: far.systemId } });
  const site = await db.site.findUniqueOrThrow({ where: { id: far.siteId } });
  marks = [mark, name, site.name, ...Object.values(far.lots).map(({ code }) => code)];
  const open = new Set(
    Object.entries(routeAccess)
      .filter(([, access]) => isOpen(access))
      .map(([route]) => shapeOf(route)),
  );
  routes = routesOf(bench.app).filter(({ method, url }) => !open.has(shapeOf(`${method} ${url}`)));
});

afterAll(() => bench.close());

const shapeOf = (name: string) => name.replace(/:\w+/g, ':');

/** One thing of each kind at a site. */
async function fill({ siteId, systemId, tankId, window, lots }: Hall): Promise<Record<string, string>> {
  const { db } = bench.service;
  const at = new Date('2026-11-24T07:00:00Z');
  const idOf = async (row: Promise<{ id: string }>) => (await row).id;
  const later = (hours: number) => new Date(at.getTime() + hours * 3_600_000);
  const reading = { quantityCode: 'alkalinity', at, value: 8.1, uncertainty: 0.1 };
  const alert = { rule: 'out-of-band', severity: 'now', worst: 1, openedAt: at, evaluatedAt: at } as const;
  const plan = await planRound(bench, { siteId, systemId, tankId } as Hall, { name: `${mark} round` });
  const slot = await db.slot.findFirstOrThrow({ where: { rackId: window } });
  return {
    system: systemId,
    tank: tankId,
    rack: window,
    slot: slot.id,
    lot: lots.A1.id,
    code: lots.A1.code,
    lamp: await idOf(db.lamp.create({ data: { tankId, name: `${mark} lamp`, litHours: 10, rampHours: 1 } })),
    circuit: await idOf(db.circuit.create({ data: { siteId, name: `${mark} circuit` } })),
    contact: await idOf(
      db.contact.create({ data: { siteId, role: 'plumber', number: '555 0100', name: mark } }),
    ),
    equipment: await idOf(
      db.equipment.create({ data: { systemId, kind: 'return_pump', name: `${mark} pump` } }),
    ),
    fault: await idOf(db.fault.create({ data: { systemId, seen: mark, notedAt: at } })),
    event: await idOf(db.systemEvent.create({ data: { systemId, kind: 'power_cut', at, note: mark } })),
    off: await idOf(
      db.switchedOff.create({
        data: {
          ...{ systemId, thing: 'heating', what: mark, why: mark, offAt: at },
          ...{ dueAt: later(1), lateAt: later(2) },
        },
      }),
    ),
    reading: await idOf(
      db.reading.create({
        data: { systemId, ...reading, enteredText: '8.1', enteredUnit: 'dKH', note: mark },
      }),
    ),
    waterChange: await idOf(db.waterChange.create({ data: { systemId, at, volumeL: 100, note: mark } })),
    dose: await idOf(db.dose.create({ data: { systemId, at, substance: mark, amount: 1, unit: 'g' } })),
    feeding: await idOf(db.feeding.create({ data: { systemId, at, food: mark } })),
    routine: await idOf(
      db.routine.create({
        data: {
          systemId,
          work: 'feeding',
          detail: { food: mark },
          everyDays: 1,
          startsOn: new Date('2026-11-20'),
        },
      }),
    ),
    alert: await idOf(
      db.alert.create({
        data: {
          ...alert,
          ...{ systemId, subjectType: 'system', subjectId: systemId, title: mark, finding: {} },
        },
      }),
    ),
    hold: await idOf(
      db.hold.create({ data: { lotId: lots.A1.id, pieces: 1, buyer: mark, until: new Date('2026-12-24') } }),
    ),
    condition: await idOf(
      db.condition.create({ data: { lotId: lots.A1.id, at, state: 'paling', note: mark } }),
    ),
    emergency: await idOf(
      db.emergency.create({
        data: {
          ...{ id: randomUUID(), siteId, event: 'power', title: mark, startedAt: at, createdAt: at },
          systems: { create: { systemId } },
        },
      }),
    ),
    plan,
    round: await begin(bench, { siteId } as Hall, plan, '2026-11-24'),
  };
}

/**
 * Pages that are about the whole farm: the names of the sites that somebody belongs to, what was done anywhere, and where
 * a limit or a letter can hold.
 */
const wholeFarm = new Set(['/sites', '/journal', '/journal.csv', '/watch/limits', '/digest/receivers']);

const leaks = (answer: Answer) => marks.filter((text) => answer.body.includes(text));

/** A token for the forms of somebody who is signed in. */
async function tokenOf(visitor: Visitor): Promise<string> {
  return /name="_csrf" value="([^"]+)"/.exec((await visitor.get('/')).body)?.[1] ?? '';
}

const ask = (visitor: Visitor, method: string, url: string, form: object): Promise<Answer> =>
  method === 'GET'
    ? visitor.get(url)
    : method === 'PUT'
      ? visitor.put(url, Buffer.from('x'), { 'content-type': 'image/jpeg' })
      : visitor.post(url, { ...form });

/** Of the kinds of things, every sixth (or twelfth) is tried in each address, another one in the next. */
const triedAs = { owner: 6, manager: 12, hand: 12 } as const;

describe('what belongs to another site', () => {
  test.each(['owner', 'manager', 'hand'] as const)(
    'is not there for the %s, whichever address names it',
    async (role) => {
      const visitor = await bench.as(role);
      const _csrf = await tokenOf(visitor);
      const wrong: string[] = [];
      let tried = 0;
      for (const [n, { method, url }] of routes.filter((route) => route.url.includes(':')).entries()) {
        for (const [k, [kind, id]] of Object.entries(ids).entries()) {
          if ((n + k) % triedAs[role] !== 0) continue;
          const answer = await ask(visitor, method, url.replace(/:\w+/g, id), { _csrf });
          tried += 1;
          const said = leaks(answer).filter((text) => text !== id);
          if (![403, 404].includes(answer.status) || said.length > 0)
            wrong.push(`${method} ${url} with a ${kind}: ${answer.status} ${said}`);
        }
      }
      expect(tried).toBeGreaterThan(200);
      expect(wrong).toEqual([]);
    },
    300_000,
  );

  test('is not there where a query names it', async () => {
    const owner = await bench.as('owner');
    const wrong: string[] = [];
    for (const { method, url } of routes.filter(
      (route) => route.method === 'GET' && !route.url.includes(':'),
    ))
      for (const kind of ['system', 'lot', 'code']) {
        const name = kind === 'code' ? 'lot' : kind;
        const answer = await owner.get(`${url}?${name}=${ids[kind]}&lots=${ids.lot},${ids.lot}`);
        // Problem details say the address that was asked for.
        const said = leaks(answer).filter((text) => text !== ids[kind]);
        if (answer.status !== 404 || said.length > 0)
          wrong.push(`${method} ${url}?${kind}: ${answer.status}`);
      }
    expect(wrong).toEqual([]);
  }, 120_000);

  test('is not taken where a form or JSON names it, and nothing of it changes', async () => {
    const owner = await bench.as('owner');
    const _csrf = await tokenOf(owner);
    const wrong: string[] = [];
    const fields = Object.fromEntries(
      Object.entries(ids).flatMap(([kind, id]) => [
        [kind, id],
        [`${kind}Id`, id],
      ]),
    );
    for (const { url } of routes.filter((route) => route.method === 'POST' && !route.url.includes(':'))) {
      const answers = [
        await owner.post(url, { _csrf, ...fields }),
        await owner.send(url, { list: [fields] }),
      ];
      for (const answer of answers)
        if (answer.status < 400 || leaks(answer).length > 0) wrong.push(`${url}: ${answer.status}`);
    }
    expect(wrong).toEqual([]);
  }, 120_000);

  test.each(['owner', 'manager', 'hand'] as const)('stands on no list that the %s sees', async (role) => {
    const visitor = await bench.as(role);
    const wrong: string[] = [];
    for (const { method, url } of routes) {
      if (method !== 'GET' || url.includes(':') || wholeFarm.has(url)) continue;
      const answer = await visitor.get(url);
      if (leaks(answer).length > 0) wrong.push(`${url}: ${leaks(answer)}`);
    }
    expect(wrong).toEqual([]);
  });

  test('does not stand in the way of what is of this site', async () => {
    const hand = await bench.as('hand');
    const near = await bench.service.db.system.findFirstOrThrow({ where: { siteId: { not: far.siteId } } });
    expect((await hand.get(`/water/systems/${near.id}`)).status).toBe(200);
  });
});
