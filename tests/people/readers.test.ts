import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { may, pageAccess } from '../../src/platform/web/access.ts';
import { routeAccess } from '../../src/route-access.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { routesOf } from '../support/routes.ts';
import { type Bench, browse, startBench, type Visitor } from '../support/service.ts';

// A reader is a vet, an accountant or a landlord: sees the farm and changes nothing.

let bench: Bench;
let hall: Hall;
let reader: Visitor;
/** An address of each page, with things that are there where the page is about one. */
let pages: string[];

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  reader = await bench.as('reader');
  const { db } = bench.service;
  const lamp = await db.lamp.create({
    data: { tankId: hall.tankId, name: 'Lamps', litHours: 10, rampHours: 1 },
  });
  const kit = await db.kit.create({
    data: {
      methodId: (await db.method.findFirstOrThrow()).id,
      label: 'KH 7',
      openedAt: new Date('2026-11-20'),
    },
  });
  const off = await db.switchedOff.create({
    data: {
      ...{ systemId: hall.systemId, thing: 'heating', what: 'Heater', why: 'Cleaned' },
      ...{ offAt: bench.service.now(), dueAt: new Date('2026-11-24T09:00:00Z') },
      ...{ lateAt: new Date('2026-11-24T10:00:00Z') },
    },
  });
  const things: [string, string][] = [
    ['/water/systems/:id', hall.systemId],
    ['/farm/systems/:id', hall.systemId],
    ['/api/systems/:id', hall.systemId],
    ['/tanks/:id', hall.tankId],
    ['/racks/:id', hall.window],
    ['/api/racks/:id', hall.window],
    ['/lamps/:id', lamp.id],
    ['/stock/:code', hall.lots.A1.code],
    ['/api/lots/:code', hall.lots.A1.code],
    ['/kinds/:code', 'goniastrea-retiformis'],
    ['/water/kits/:id', kit.id],
    ['/farm/switched-off/:id', off.id],
  ];
  pages = routesOf(bench.app)
    .filter(({ method, url }) => method === 'GET' && may('reader', routeAccess[`GET ${url}`] ?? 'owner'))
    .flatMap(({ url }) => {
      if (!url.includes(':')) return [url];
      const known = things.find(([shape]) => url === shape || url.startsWith(`${shape}/`));
      const address = known === undefined ? url : url.replace(known[0], known[0].replace(/:\w+/, known[1]));
      return address.includes(':') ? [] : [address];
    });
});
afterAll(() => bench.close());

const formsThatPost = (body: string) =>
  [...body.matchAll(/<form\b[^>]*method="post"[^>]*>/g)]
    .map(([form]) => /action="([^"]*)"/.exec(form)?.[1] ?? '')
    .filter((action) => action !== '/sign-out' && !action.startsWith('/account/'));

describe('a reader', () => {
  test('sees the pages of the farm, with no form that posts and no door that would be shut', async () => {
    const open = pageAccess(routeAccess);
    const wrong: string[] = [];
    for (const url of pages) {
      const { status, body } = await reader.get(url, { accept: 'text/html' });
      // Lists of the API want a system; a tablet is no tablet until it is enrolled; figures for a monitor want its token.
      const isAsked = (url.startsWith('/api/') && status === 422) || ['/tablet', '/metrics'].includes(url);
      if (status >= 400 && !isAsked) wrong.push(`${url}: ${status}`);
      const shut = [...body.matchAll(/<a\b[^>]*\shref="(\/[^"]*)"/g)]
        .map(([, href = '']) => href.replace(/&amp;/g, '&'))
        .filter((href) => !may('reader', open(href) ?? 'anybody'));
      for (const one of [...formsThatPost(body), ...shut]) wrong.push(`${url} offers ${one}`);
    }
    expect(pages.length).toBeGreaterThan(40);
    expect(wrong).toEqual([]);
  });

  test('is offered no list that is kept from readers, and a hand none that is kept from hands', async () => {
    const wrong: string[] = [];
    for (const visitor of [reader, await bench.as('hand', 'List Hand')]) {
      const offered = new Set<string>();
      for (const url of pages.filter((one) => !one.startsWith('/api/')))
        for (const [, list = ''] of (await visitor.get(url)).body.matchAll(/href="(\/export\/[^"]+\.csv)"/g))
          offered.add(list);
      expect(offered.size).toBeGreaterThan(10);
      for (const list of offered) {
        const { status } = await visitor.get(list);
        if (status !== 200) wrong.push(`${list}: ${status}`);
      }
    }
    expect(wrong).toEqual([]);
  });

  test('sees what a hand sees: lots, racks, readings', async () => {
    const { body } = await reader.get(`/stock/${hall.lots.A1.code}`);
    expect(body).toContain(hall.lots.A1.code);
    expect(body).toContain('Window rack');
    expect((await reader.get(`/water/systems/${hall.systemId}/readings.csv`)).status).toBe(200);
  });

  test('is refused every post, with a page that says why, and nothing changes', async () => {
    const _csrf = /name="_csrf" value="([^"]+)"/.exec((await reader.get('/account')).body)?.[1] ?? '';
    // The rules may write lines of their own meanwhile.
    const ofPeople = { where: { accountId: { not: null } } };
    const lines = await bench.service.db.journalLine.count(ofPeople);
    const wrong: string[] = [];
    for (const { method, url } of routesOf(bench.app)) {
      const access = routeAccess[`${method} ${url}`];
      if (method === 'GET' || access === undefined || may('reader', access)) continue;
      const address = url
        .replace(':code', hall.lots.A1.code)
        .replace(/:(systemId|id)/, hall.systemId)
        .replace(/:\w+/g, hall.lots.A1.id);
      const answer =
        method === 'PUT'
          ? await reader.put(address, Buffer.from('x'), { 'content-type': 'image/jpeg' })
          : await reader.post(address, { _csrf });
      if (answer.status !== 403 || !answer.body.includes('may look at the farm and change nothing'))
        wrong.push(`${method} ${url}: ${answer.status}`);
    }
    expect(wrong).toEqual([]);
    expect(await bench.service.db.journalLine.count(ofPeople)).toBe(lines);
  });

  test('is made on the page of people, signs in, and keeps the own password', async () => {
    const owner = await bench.as('owner');
    const form = {
      name: 'Vera Lund',
      email: 'vera@example.org',
      role: 'reader',
      password: 'three green lamps',
      pin: '',
    };
    expect((await owner.post('/people', form)).status).toBe(303);
    const vera = browse(bench.app);
    await vera.get('/sign-in');
    expect((await vera.post('/sign-in', { email: form.email, password: form.password })).status).toBe(303);
    const account = await vera.get('/account');
    expect(account.body).toContain('action="/account/password"');
    const changed = await vera.post('/account/password', {
      current: form.password,
      password: 'four blue lamps on',
    });
    expect(changed.status).toBe(303);
    expect((await vera.get('/water')).status).toBe(200);
  });
});
