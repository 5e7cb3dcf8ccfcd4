import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { tasksDue } from '../../src/rounds/tasks/tasks.ts';
import { choosePlaces, type FreePlace } from '../../src/stock/deliveries/places.rules.ts';
import { shareOf } from '../../src/stock/deliveries/suppliers.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

const grey = { create: { width: 60, height: 40, channels: 3 as const, background: '#888' } };

const place = (slotId: string, rackId: string, par: number | null): FreePlace => ({ slotId, rackId, par });

describe('the place of a lot that came', () => {
  const free = [
    place('a1', 'bright', 200),
    place('a2', 'bright', 140),
    place('b1', 'dim', 60),
    place('b2', 'dim', 90),
  ];

  test('is on the dimmest rack where its light is not known, before all others', () => {
    expect(choosePlaces([180, null, null], free).map((one) => one?.slotId)).toEqual(['a2', 'b1', 'b2']);
  });

  test('is the brightest slot that is at most a tenth brighter than what it had, else the dimmest', () => {
    expect(choosePlaces([200, 40], free).map((one) => one?.slotId)).toEqual(['a1', 'b1']);
  });

  test('is any where no light was measured, and none where none is free', () => {
    expect(choosePlaces([null, null], [place('c1', 'dark', null)]).map((one) => one?.slotId ?? null)).toEqual(
      ['c1', null],
    );
  });
});

describe('a share of a supplier', () => {
  // 3 of 57: 1.10 to 14.62 %, Clopper and Pearson 1934, scipy 1.17.1 binomtest.
  test('has its base and its exact interval, and is nothing where the base is empty', () => {
    expect(shareOf(3, 57, 'in the box')).toBe('3 of 57 in the box: 5.3 % (1.1 to 15 %)');
    expect(shareOf(0, 0, 'in the box')).toBe('nothing to say yet');
  });
});

describe('a delivery of several lots', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;
  let id: string;
  const line = (n: number, of: Record<string, string>) =>
    Object.fromEntries(
      Object.entries({ light: 'unknown', ...of }).map(([field, value]) => [`${field}_${n}`, value]),
    );
  const tank = async () => bench.service.db.tank.findFirstOrThrow({ where: { systemId: shelf.systemId } });
  const page = async () => (await hand.get(`/stock/deliveries/${id}`)).body;

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    const { db } = bench.service;
    await db.tank.updateMany({
      where: { systemId: shelf.systemId },
      data: { quarantine: true, ownWater: 'A tank of its own' },
    });
    hand = await bench.as('hand', 'Nela Brandt');
  });
  afterAll(() => bench.close());

  test('makes room for more lots and keeps what was typed', async () => {
    const page = await hand.post('/stock/deliveries', {
      ...{ supplier: 'Angra nursery', lines: '3', tank: '', purpose: 'observe', do: 'more' },
      ...line(1, { kind: 'Acropora tenuis', counted: '4' }),
    });
    expect(page.status).toBe(200);
    expect(page.body).toContain('value="Angra nursery"');
    expect(page.body).toMatch(/name="counted_1"[^>]*value="4"|value="4"[^>]*name="counted_1"/);
    expect(page.body).toContain('Lot 9');
    expect(page.body).not.toContain('Lot 10');
    expect(await bench.service.db.delivery.count()).toBe(0);
  });

  test('is refused with what to mend, and keeps what was typed', async () => {
    const refused = await hand.post('/stock/deliveries', {
      ...{ supplier: 'Angra nursery', lines: '6', tank: '', purpose: 'observe' },
      ...line(1, { kind: 'Acropora tenuis', counted: '3', dead: '4' }),
      ...line(2, { kind: '', counted: '2' }),
      ...line(3, { kind: 'Acropora tenuis', counted: '1', light: 'stated' }),
    });
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('At most the 3 that were in the box.');
    expect(refused.body).toContain('Say what it is.');
    expect(refused.body).toContain('Enter the light, or choose that it is not known.');
    expect(refused.body).toContain('Angra nursery');
    const empty = await hand.post('/stock/deliveries', {
      supplier: 'Angra nursery',
      lines: '1',
      tank: '',
      purpose: 'observe',
      ...line(1, {}),
    });
    expect(empty.body).toContain('Enter at least one lot.');
  });

  test('becomes lots in quarantine with its purpose: ordered, invoiced and counted apart, the dead off the count', async () => {
    const sent = await hand.post('/stock/deliveries', {
      ...{
        supplier: 'Angra nursery',
        lines: '6',
        boxDegC: '22.5',
        boxSalinity: '33',
        hours: '20',
        claimHours: '24',
      },
      ...{ tank: (await tank()).id, purpose: 'pests', note: '' },
      ...line(1, {
        kind: 'Acropora tenuis',
        name: 'Blue tenuis',
        ordered: '5',
        invoiced: '5',
        counted: '4',
        dead: '1',
      }),
      ...line(2, { kind: 'Stylophora pistillata', counted: '3', light: 'stated', par: '150' }),
      ...line(3, { kind: 'Stylophora pistillata', counted: '2', dead: '2' }),
      ...line(4, { kind: 'Acropora tenuis', ordered: '2', counted: '0' }),
    });
    expect(sent.status, sent.body).toBe(303);
    const { db } = bench.service;
    const delivery = await db.delivery.findFirstOrThrow({
      include: { lines: { orderBy: { position: 'asc' }, include: { lot: true } } },
    });
    id = delivery.id;
    expect(
      delivery.lines.map(({ ordered, invoiced, counted, arrivedDead, lot }) => [
        ordered,
        invoiced,
        counted,
        arrivedDead,
        lot?.pieces ?? null,
      ]),
    ).toEqual([
      [5, 5, 4, 1, 3],
      [null, null, 3, 0, 3],
      [null, null, 2, 2, 0],
      [2, null, 0, 0, null],
    ]);
    expect(await db.ledgerEntry.count({ where: { cause: 'dead_on_arrival' } })).toBe(2);
    expect(await db.quarantine.findFirstOrThrow({ where: { endedAt: null } })).toMatchObject({
      purpose: 'pests',
    });
    const body = await page();
    expect(body).toContain('Ordered 7, invoiced 5, counted 9, of these 3 dead.');
    expect(body).toContain('Not as invoiced');
    expect(body).toContain('150 µmol/(m² s), stated');
  });

  test('asks for looks at lots of unknown light after 7, 21 and 40 days, and for the claim within its hours', async () => {
    const looks = await bench.service.db.look.findMany({
      orderBy: { dueAt: 'asc' },
      select: { title: true, dueAt: true },
    });
    const days = looks.map(({ title, dueAt }) => [
      title,
      (dueAt.getTime() - bench.service.now().getTime()) / 86_400_000,
    ]);
    expect(days).toEqual([
      ['Claim with Angra nursery', 0.5],
      ['Look at the lots from Angra nursery, day 7', 7],
      ['Look at the lots from Angra nursery, day 21', 21],
      ['Look at the lots from Angra nursery, day 40', 40],
    ]);
    const due = await tasksDue(bench.service.pool, [shelf.systemId], bench.service.now());
    expect(due.map(({ title }) => title).join()).toContain('Claim with Angra nursery');
    expect(await page()).toContain('Claim possible until');
  });

  test('keeps the purpose of a quarantine that runs for pests, the spelling of its supplier, and its work without a tank', async () => {
    const { db } = bench.service;
    const box = { supplier: 'angra  Nursery', lines: '1', hours: '', claimHours: '24', note: '' };
    const lot = line(1, { kind: 'Acropora tenuis', invoiced: '3', counted: '2', dead: '1' });
    const come = async (tankId: string) => {
      const sent = await hand.post('/stock/deliveries', { ...box, tank: tankId, purpose: 'observe', ...lot });
      expect(sent.status, sent.body).toBe(303);
      return (sent.location ?? '').split('/').at(-1) ?? '';
    };
    const placed = await come((await tank()).id);
    expect(await db.quarantine.findFirstOrThrow({ where: { endedAt: null } })).toMatchObject({
      purpose: 'pests',
    });
    expect((await hand.get('/stock/deliveries')).body).toContain('The quarantine goes on for pests.');
    const unplaced = await come('');
    const keys = (await db.look.findMany({ where: { key: { contains: unplaced } } })).map(({ key }) => key);
    expect(keys.sort()).toEqual([
      `claim:${unplaced}`,
      ...[21, 40, 7].map((day) => `delivery:${unplaced}:${day}`),
    ]);
    const suppliers = await db.delivery.findMany({ distinct: 'supplier', select: { supplier: true } });
    expect(suppliers).toEqual([{ supplier: 'Angra nursery' }]);
    await db.look.deleteMany({
      where: { OR: [placed, unplaced].map((one) => ({ key: { contains: one } })) },
    });
    await db.deliveryLine.deleteMany({ where: { deliveryId: { in: [placed, unplaced] } } });
    await db.delivery.deleteMany({ where: { id: { in: [placed, unplaced] } } });
  });

  test('has its claim made and settled once, and papers attached', async () => {
    expect((await hand.post(`/stock/deliveries/${id}/claim-result`, { result: 'Paid' })).status).toBe(409);
    const path = `/stock/deliveries/${id}/claim`;
    const claim = (content: Buffer) =>
      hand.upload(path, { note: '3 dead, photos sent' }, { field: 'photos', name: 'dead.png', content });
    const refused = await claim(Buffer.from('no picture'));
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('dead.png is not a picture the service can read');
    expect(refused.body).toContain('3 dead, photos sent');
    const made = await claim(await sharp(grey).png().toBuffer());
    expect(made.status, made.body).toBe(303);
    const [, picture = ''] = /<img src="(\/files\/[^"]+)" alt="Dead on arrival"/.exec(await page()) ?? [];
    expect((await hand.get(picture)).headers['content-type']).toBe('image/jpeg');
    expect((await hand.post(`/stock/deliveries/${id}/claim`, { note: 'again' })).status).toBe(409);
    expect(await bench.service.db.look.count({ where: { key: `claim:${id}`, doneAt: null } })).toBe(0);
    expect((await hand.post(`/stock/deliveries/${id}/claim-result`, { result: 'Credited' })).status).toBe(
      303,
    );
    expect(await page()).toContain('Settled: Credited');
    expect((await hand.get(`/files/delivery/${id}`)).body).toContain(
      'Files of the delivery from Angra nursery',
    );
  });

  test('is taken and read in the units of whoever reads, and keeps one truth', async () => {
    const west = await bench.as('hand', 'West Hand');
    await west.post('/account/units', { temperature: 'degF', salinity: 'SG 25/25' });
    const form = (await west.get('/stock/deliveries/new')).body;
    expect(form).toContain('°F');
    expect(form).toContain('SG 25/25');
    const sent = await west.post('/stock/deliveries', {
      ...{ supplier: 'Angra nursery', lines: '1', boxDegC: '72.5', boxSalinity: '1.025', tank: '' },
      ...{ purpose: 'observe', _units: /name="_units" value="([^"]+)"/.exec(form)?.[1] ?? '' },
      ...line(1, { kind: 'Acropora tenuis', counted: '1' }),
    });
    expect(sent.status, sent.body).toBe(303);
    const row = await bench.service.db.delivery.findFirstOrThrow({ orderBy: { id: 'desc' } });
    expect(row.boxDegC).toBeCloseTo(22.5, 6);
    // EOS-80 at 25 degC for SG 1.025 25/25 (tests/reference/seawater_sg_to_salinity.csv).
    expect(row.boxSalinity).toBeCloseTo(33.1881, 2);
    expect((await west.get(`/stock/deliveries/${row.id}`)).body).toMatch(/72\.5.*°F/);
    expect((await hand.get(`/stock/deliveries/${row.id}`)).body).toMatch(/22\.5.*°C/);
    await bench.service.db.deliveryLine.deleteMany({ where: { deliveryId: row.id } });
    await bench.service.db.delivery.delete({ where: { id: row.id } });
  });

  test('lets the planner of light begin with what it says of the light before, and shows the pests seen since', async () => {
    const [dim, stated] = await bench.service.db.deliveryLine.findMany({
      where: { deliveryId: id },
      orderBy: { position: 'asc' },
      include: { lot: true },
    });
    const form = async (lots: string[]) =>
      (
        await (
          await bench.as('manager')
        ).get(`/stock/acclimations/new?${lots.map((one) => `lots=${one}`).join('&')}`)
      ).body;
    const chosen = (body: string) =>
      /value="(\w+)"[^>]*(?:checked|selected)[^>]*>\s*<span>(?:nobody|as the sender|known)/.exec(body)?.[1];
    expect(chosen(await form([dim?.lotId as string]))).toBe('unknown');
    const other = await form([stated?.lotId as string]);
    expect(chosen(other)).toBe('stated');
    expect(other).toContain('value="150"');
    const look = { state: 'pest', grade: '1', pest: 'acropora_flatworm', pestCount: '2', note: '' };
    expect((await hand.post(`/lots/${dim?.lotId}/conditions`, look)).status).toBe(303);
    expect(await page()).toContain('Acropora-eating flatworm');
    const watch = await bench.service.db.pestWatch.findFirstOrThrow();
    expect((await hand.get(`/stock/pests/${watch.id}`)).body).toContain('delivery from Angra nursery');
  });

  test('counts for its supplier: dead on arrival of the box, dead within 3 and 30 days of those alive on arrival', async () => {
    const lot = await bench.service.db.deliveryLine.findFirstOrThrow({
      where: { deliveryId: id, position: 1 },
    });
    bench.at(new Date(bench.service.now().getTime() + 2 * 86_400_000));
    expect(
      (await hand.post(`/lots/${lot.lotId}/ledger`, { reason: 'lost', pieces: '1', cause: 'flesh_gone' }))
        .status,
    ).toBe(303);
    const early = (await hand.get('/stock/deliveries')).body;
    expect(early).toContain('3 of 9 in the box: 33 % (7.5 to 70 %)');
    expect(early).toContain('nothing to say yet');
    bench.at(new Date(bench.service.now().getTime() + 29 * 86_400_000));
    expect((await hand.get('/stock/deliveries')).body).toContain('1 of 6 alive on arrival: 17 %');
    expect((await hand.get('/export/deliveries.csv')).body).toContain('Angra nursery');
  });

  describe('that was entered wrongly', () => {
    const take = async (lines: Record<string, string>[], more: Record<string, string> = {}) => {
      const sent = await hand.post('/stock/deliveries', {
        ...{
          supplier: 'Wrong sheet',
          lines: '6',
          claimHours: '24',
          tank: (await tank()).id,
          purpose: 'pests',
          despite: 'a quarantine of its own',
        },
        ...more,
        ...Object.assign({}, ...lines.map((one, i) => line(i + 1, one))),
      });
      expect(sent.status, sent.body).toBe(303);
      const found = await bench.service.db.delivery.findFirstOrThrow({
        orderBy: { id: 'desc' },
        include: { lines: { orderBy: { position: 'asc' }, include: { lot: true } } },
      });
      return {
        at: `/stock/deliveries/${found.id}`,
        id: found.id,
        lots: found.lines.flatMap(({ lot }) => lot ?? []),
      };
    };
    const two = [
      { kind: 'Acropora tenuis', counted: '4', dead: '1' },
      { kind: 'Stylophora pistillata', counted: '2' },
    ];
    const pieces = async (ids: string[]) =>
      (await bench.service.db.lot.findMany({ where: { id: { in: ids } } })).map((lot) => lot.pieces);
    const openLooks = (of: string) =>
      bench.service.db.look.count({ where: { href: `/stock/deliveries/${of}`, doneAt: null } });

    test('is undone from the notice while nothing rests on it: no pieces, no places, no looks, no share of its supplier', async () => {
      const { db } = bench.service;
      const before = await db.quarantine.findFirstOrThrow({ where: { endedAt: null } });
      const placed = await db.placement.count();
      const { at, id: of, lots } = await take(two);
      expect(await openLooks(of)).toBeGreaterThan(0);
      expect((await hand.get('/stock/deliveries')).body).toContain('Wrong sheet');
      expect((await db.quarantine.findFirstOrThrow({ where: { endedAt: null } })).countsFrom).not.toEqual(
        before.countsFrom,
      );
      const notice = await take([{ kind: 'Acropora tenuis', counted: '1' }]);
      expect((await hand.get(notice.at)).body).toContain(`action="${notice.at}/taking-back"`);
      for (const one of [at, notice.at]) expect((await hand.post(`${one}/taking-back`, {})).status).toBe(303);
      expect(await pieces(lots.map((lot) => lot.id))).toEqual([0, 0]);
      expect(await db.placement.count()).toBe(placed);
      expect(await openLooks(of)).toBe(0);
      const list = (await hand.get('/stock/deliveries')).body;
      expect(list).toContain('Taken back: no reason was given');
      expect(list.match(/Wrong sheet/g)).toHaveLength(2);
      const after = await db.quarantine.findFirstOrThrow({ where: { endedAt: null } });
      expect([after.countsFrom, after.restartedBy]).toEqual([before.countsFrom, before.restartedBy]);
      expect((await hand.post(`${at}/taking-back`, { reason: 'again' })).status).toBe(409);
      expect((await hand.post(`${at}/claim`, { note: '1 dead' })).status).toBe(409);
      expect((await hand.get('/export/deliveries.csv')).body).toContain('no reason was given');
    });

    test('asks why once something was done with it, and what was noted stays in view', async () => {
      const { at, lots } = await take(two);
      const [looked] = lots;
      await hand.post(`/lots/${looked?.id}/conditions`, { state: 'well', note: '' });
      const unsaid = await hand.post(`${at}/taking-back`, {});
      expect(unsaid.status).toBe(422);
      expect(unsaid.body).toContain('Say what was wrong with it.');
      expect(unsaid.body).toMatch(new RegExp(`>${looked?.code}</a> was looked at`));
      expect(await pieces(lots.map(({ id }) => id))).toEqual([3, 2]);
      const back = await hand.post(`${at}/taking-back`, { reason: 'The boxes were for the other farm' });
      expect(back.status, back.body).toBe(303);
      expect(await pieces(lots.map(({ id }) => id))).toEqual([0, 0]);
      expect((await hand.get(at)).body).toContain('The boxes were for the other farm');
      const href = new RegExp(`href="([^"]+)">${looked?.code}`).exec((await hand.get(at)).body)?.[1];
      expect((await hand.get(String(href))).status).toBe(200);
    });

    test('is held by a claim, a hold, a loss or a tag, each named with its place', async () => {
      const { db } = bench.service;
      const { at, id: of, lots } = await take(two, { tank: '' });
      const [first, second] = lots as [(typeof lots)[0], (typeof lots)[0]];
      await hand.post(`${at}/claim`, { note: '1 dead' });
      const promise = { pieces: '1', buyer: 'A buyer', until: '2027-12-01' };
      expect((await hand.post(`/lots/${second.id}/holds`, promise)).status).toBe(303);
      await db.tag.create({
        data: {
          token: 'a-tag-of-a-lot',
          lotId: first.id,
          pieces: 1,
          issuedAt: bench.service.now(),
          record: '{}',
          signature: 'x',
        },
      });
      const refused = await hand.post(`${at}/taking-back`, { reason: 'The wrong sheet' });
      expect(refused.status).toBe(409);
      for (const said of [
        `${second.code}</a> is on order 1`,
        `${second.code}</a> is held for a buyer`,
        `${first.code}</a> has a tag`,
        'Its claim is not settled',
      ])
        expect(refused.body).toContain(said);
      expect(refused.body).not.toContain('Take the delivery back');
      await db.tag.updateMany({
        where: { lotId: first.id },
        data: { withdrawnAt: bench.service.now(), withdrawnReason: 'x' },
      });
      await hand.post(`${at}/claim-result`, { result: 'None was due' });
      const hold = await db.hold.findFirstOrThrow({ where: { lotId: second.id } });
      for (const _ of [1, 2]) await hand.post(`/holds/${hold.id}/release`, { reason: 'called off' });
      expect((await hand.get('/stock/ready')).body).toContain('This hold was already released or sold.');
      const back = await hand.post(`${at}/taking-back`, { reason: 'The wrong sheet' });
      expect(back.status, back.body).toBe(303);
      expect(await db.delivery.findUniqueOrThrow({ where: { id: of } })).toMatchObject({
        voidReason: 'The wrong sheet',
      });
    });
  });
});
