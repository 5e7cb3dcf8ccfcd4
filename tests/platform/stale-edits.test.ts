import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { plainFinding } from '../../src/alerts/finding.ts';
import { type Hall, makeHall, planRound } from '../rounds/hall.ts';
import { fieldsOf } from '../support/forms.ts';
import { type Answer, type Bench, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let hall: Hall;
let mine: Visitor;
let theirs: Visitor;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  mine = await bench.as('owner', 'Ines Varga');
  theirs = await bench.as('owner', 'Odo Brandt');
});
afterAll(() => bench.close());

/** Makes something by its form and gives the id that its list leads to. */
async function made(url: string, form: Record<string, string>, list: string, link: RegExp): Promise<string> {
  const answer = await mine.post(url, form);
  expect(answer.status, answer.body).toBe(303);
  return link.exec((await mine.get(list)).body)?.[1] ?? '';
}

interface Edited {
  /** Where its form is. */
  page: string;
  action: string;
  /** The field that both change. */
  field: string;
}

const edited: [string, () => Promise<Edited>][] = [
  ['the site', async () => ({ page: '/farm/site', action: '/farm/site', field: 'name' })],
  [
    'a system',
    async () => ({
      page: `/farm/systems/${hall.systemId}`,
      action: `/farm/systems/${hall.systemId}`,
      field: 'note',
    }),
  ],
  [
    'a tank',
    async () => ({ page: `/farm/tanks/${hall.tankId}`, action: `/farm/tanks/${hall.tankId}`, field: 'note' }),
  ],
  [
    'a rack',
    async () => ({ page: `/farm/racks/${hall.empty}`, action: `/farm/racks/${hall.empty}`, field: 'name' }),
  ],
  [
    'a number to call',
    async () => {
      const form = {
        role: 'farm_manager',
        name: 'Ines',
        number: '+351 21 000 00 00',
        note: '',
        testedOn: '',
      };
      const roles = (await mine.get('/farm/contacts/new')).body;
      const role = /<option value="(\w+)"/.exec(roles)?.[1] ?? form.role;
      const id = await made(
        '/farm/contacts',
        { ...form, role },
        '/farm/contacts',
        /farm\/contacts\/([0-9a-f-]{36})/,
      );
      return { page: `/farm/contacts/${id}`, action: `/farm/contacts/${id}`, field: 'name' };
    },
  ],
  [
    'a circuit',
    async () => {
      const form = { name: 'Board 1', place: '', protection: '', testEveryDays: '', note: '' };
      const id = await made('/farm/circuits', form, '/farm/equipment', /farm\/circuits\/([0-9a-f-]{36})/);
      return { page: `/farm/circuits/${id}/change`, action: `/farm/circuits/${id}`, field: 'name' };
    },
  ],
  [
    'an account',
    async () => {
      const { id } = await bench.as('hand', 'Rui Sol');
      return { page: `/people/${id}`, action: `/people/${id}`, field: 'name' };
    },
  ],
  [
    'a kind',
    async () => ({
      page: '/kinds/dipsastraea-favus/details',
      action: '/kinds/dipsastraea-favus/details',
      field: 'note',
    }),
  ],
  [
    'a lot',
    async () => ({
      page: `/stock/${hall.lots.A1.code}/details`,
      action: `/lots/${hall.lots.A1.id}/details`,
      field: 'note',
    }),
  ],
  [
    'a tablet',
    async () => {
      await theirs.post('/people', { name: 'Tomas', email: '', role: 'hand', password: '', pin: '8305' });
      const device = await bench.as('manager', 'Lena Roth');
      const { id: hand } = await bench.service.db.account.findFirstOrThrow({ where: { name: 'Tomas' } });
      await device.post('/people/tablets', { name: 'North hall', idleMin: 15, people: [hand] });
      const { id } = await bench.service.db.tablet.findFirstOrThrow();
      return { page: `/people/tablets/${id}`, action: `/people/tablets/${id}`, field: 'name' };
    },
  ],
  [
    'a method',
    async () => {
      const { id } = await bench.service.db.method.findFirstOrThrow();
      return { page: `/water/methods/${id}`, action: `/water/methods/${id}`, field: 'note' };
    },
  ],
  [
    'the lamps',
    async () => {
      const data = { tankId: hall.tankId, name: 'Bars', litHours: 10, rampHours: 2 };
      const { id } = await bench.service.db.lamp.create({ data });
      return { page: `/farm/lamps/${id}`, action: `/farm/lamps/${id}`, field: 'name' };
    },
  ],
  [
    'a round plan',
    async () => {
      const id = await planRound(bench, hall);
      return { page: `/rounds/plans/${id}`, action: `/rounds/plans/${id}`, field: 'name' };
    },
  ],
];

interface Settled {
  page: string;
  action: string;
  /** What the quicker one sends, and the other. */
  first: Record<string, unknown>;
  second: Record<string, unknown>;
  /** What the second is shown of what stands there. */
  shows: RegExp;
  /** True where it is settled by the first, and has to be taken back before. */
  isOver?: boolean;
}

const careOf = (page: string, action: string): Settled => ({
  ...{ page, action },
  first: { low: '80', high: '120', reason: 'Odo measured it' },
  second: { low: '200', high: '300', reason: 'Ines read it' },
  shows: /Now: 80 to 120/,
});

/** What is settled without a version of its own. */
const settled: [string, () => Promise<Settled>][] = [
  [
    'the light of a kind',
    async () => careOf('/kinds/dipsastraea-favus/care/par_range', '/kinds/dipsastraea-favus/care/par_range'),
  ],
  [
    'the light of one lot',
    async () =>
      careOf(`/stock/${hall.lots.A1.code}/care/par_range`, `/lots/${hall.lots.A1.id}/care/par_range`),
  ],
  [
    'the times of what is off',
    async () => ({
      ...{ page: '/farm/switched-off/times', action: '/farm/switched-off/times' },
      first: { thing: 'heating', dueMin: '25', lateMin: '40', reason: 'Odo: small room' },
      second: { thing: 'heating', dueMin: '90', lateMin: '120', reason: 'Ines: warm room' },
      shows: /Odo: small room/,
    }),
  ],
  [
    'the order of tests',
    async () => {
      const page = `/water/systems/${hall.systemId}/bench-order`;
      const [first, second] = [{ 'ph-place': '1' }, { 'calcium-place': '1' }];
      return { page, action: page, first, second, shows: /There now: pH/ };
    },
  ],
  [
    'the units',
    async () => ({
      ...{ page: '/water/units', action: '/water/units' },
      first: { 'calcium-decimals': '2' },
      second: { 'magnesium-decimals': '2' },
      shows: /There now: Calcium in mg\/L, 2 decimals/,
    }),
  ],
  [
    'one day of a round plan',
    async () => {
      const id = await planRound(bench, hall, { name: 'Evening' });
      const action = `/rounds/plans/${id}/days`;
      const day = '2026-11-27';
      const first = { day, walked: 'no', note: 'Odo: holiday' };
      const second = { day, startsAt: '11:30', walked: 'yes', note: 'Ines' };
      return { page: `${action}?day=${day}`, action, first, second, shows: /There now: not walked/ };
    },
  ],
  [
    'the flow of whole racks',
    async () => {
      const page = `/farm/tanks/${hall.tankId}/flow`;
      const racks = [hall.empty];
      const [first, second] = [
        { racks, flow: 'high' },
        { racks, flow: 'low' },
      ];
      return { page, action: page, first, second, shows: /Somebody changed racks of this tank/ };
    },
  ],
  [
    'the price of several lots',
    async () => {
      await bench.service.db.site.updateMany({ data: { currency: 'EUR' } });
      const page = `/stock/several/price?ticked=${hall.lots.A1.code}.${hall.lots.B1.code}`;
      const [first, second] = [{ price: '20.00' }, { price: '14.00' }];
      return { page, action: '/stock/several/price', first, second, shows: /From [^<]*20\.00/ };
    },
  ],
  [
    'the end of what is off',
    async () => {
      const at = new Date('2026-11-24T08:00:00Z');
      const { id } = await bench.service.db.switchedOff.create({
        data: {
          ...{ systemId: hall.systemId, thing: 'heating', what: 'Heater', why: 'cleaning', offAt: at },
          ...{ dueAt: new Date('2026-11-24T09:00:00Z'), lateAt: new Date('2026-11-24T10:00:00Z') },
        },
      });
      return {
        ...{ page: `/farm/switched-off/${id}`, action: `/farm/switched-off/${id}/longer` },
        first: { minutes: '30', why: 'Odo waits for a part' },
        second: { minutes: '300', why: 'Ines' },
        shows: /Odo waits for a part/,
      };
    },
  ],
  [
    'a limit of a rule',
    async () => {
      const { id } = await bench.service.db.limitTrial.create({
        data: {
          ...{ siteId: hall.siteId, rule: 'condition-noted', name: 'looked', value: 3, reason: 'Tried' },
          ...{ days: 30, finishedAt: new Date('2026-11-24T08:00:00Z') },
        },
      });
      const action = '/watch/limits/condition-noted/looked';
      const [first, second] = [{ value: '5' }, { value: '2' }];
      return { page: `/watch/trials/${id}`, action, first, second, shows: />5 / };
    },
  ],
  [
    'an alert that is put off',
    async () => {
      const at = new Date('2026-11-24T08:00:00Z');
      const { systemId } = hall;
      const finding = {
        ...plainFinding,
        ...{ score: 1, numbers: '', why: '', firstStep: '' },
        limit: { label: 'Limit', text: '7', unit: 'dKH', source: 'test' },
        number: { label: 'Level', text: '6.8', unit: 'dKH' },
      };
      const { id } = await bench.service.db.alert.create({
        data: {
          ...{
            rule: 'out-of-band',
            severity: 'watch',
            worst: 1,
            openedAt: at,
            evaluatedAt: at,
            title: 'Low',
          },
          ...{ systemId, subjectType: 'system', subjectId: systemId, finding },
        },
      });
      const until = { until: '2026-11-30', reason: 'Odo: seen' };
      const action = `/watch/${id}/postponement`;
      const second = { until: '2026-12-20', reason: 'Ines' };
      return { page: `/watch/${id}`, action, first: until, second, shows: /Odo: seen/, isOver: true };
    },
  ],
];

describe('what somebody else changed meanwhile', () => {
  test.each(edited)(
    '%s: is told with what is there now, keeps what was typed, and can be saved then',
    async (_, make) => {
      const { page, action, field } = await make();
      const form = fieldsOf((await mine.get(page)).body, action);
      const other = fieldsOf((await theirs.get(page)).body, action);
      expect((await theirs.post(action, { ...other, [field]: 'Written by Odo' })).status).toBe(303);
      const late = await mine.post(action, { ...form, [field]: 'Written by Ines' });
      expect(late.status).toBe(409);
      expect(late.body).toContain('while you were editing');
      expect(late.body).toMatch(/There now: [^<]*Written by Odo/);
      const kept = fieldsOf(late.body, action);
      expect(kept[field]).toEqual(['Written by Ines']);
      expect((await mine.post(action, kept)).status).toBe(303);
      expect(fieldsOf((await mine.get(page)).body, action)[field]).toEqual(['Written by Ines']);
    },
  );

  test.each(settled)(
    '%s: the second is told, nothing is written over, and it can be sent again',
    async (_, make) => {
      const { page, action, first, second, shows, isOver = false } = await make();
      const form = fieldsOf((await mine.get(page)).body, action);
      const other = fieldsOf((await theirs.get(page)).body, action);
      const began = await theirs.post(action, { ...other, ...first });
      expect(began.status, began.body).toBe(303);
      const late = await mine.post(action, { ...form, ...second });
      expect(late.status, late.body).toBe(409);
      expect(late.body).toMatch(/while you were editing|meanwhile/);
      expect(late.body).toMatch(shows);
      if (isOver) return;
      const again = fieldsOf((await mine.get(page)).body, action);
      expect((await mine.post(action, { ...again, ...second })).status).toBe(303);
    },
  );

  test('the bands of a system: the second is told which differ, and saves again knowingly', async () => {
    const page = `/water/systems/${hall.systemId}/targets`;
    const names = (await mine.get(page)).body;
    const [, low = ''] = /name="([^"]*alkalinity[^"]*)"/i.exec(names) ?? [];
    const source = low.replace(/[a-zA-Z]+$/, 'source');
    const fields = (who: Visitor) => who.get(page).then(({ body }) => fieldsOf(body, page));
    const [form, other] = [await fields(mine), await fields(theirs)];
    const say = (of: object, value: string) => ({ ...of, [low]: value, [source]: 'own choice' });
    expect((await theirs.post(page, say(other, '7.5'))).status).toBe(303);
    const late = await mine.post(page, say(form, '7.8'));
    expect(late.status, late.body).toBe(409);
    expect(late.body).toMatch(/There now: [^<]*7\.5/);
    const kept = fieldsOf(late.body, page);
    expect(kept[low]).toEqual(['7.8']);
    expect((await mine.post(page, kept)).status).toBe(303);
    expect((await fields(mine))[low]).toEqual(['7.8']);
  });

  test('a routine: the plan that stands there now is shown, changed and ended, and none is doubled', async () => {
    const list = `/water/systems/${hall.systemId}/routines`;
    const plan = { work: 'test', quantityCode: 'alkalinity', everyDays: '7', startsOn: '2026-11-25' };
    const id = await made(list, plan, list, /water\/routines\/([0-9a-f-]{36})/);
    const [page, action] = [`/water/routines/${id}`, `/water/routines/${id}`];
    const form = fieldsOf((await mine.get(page)).body, action);
    const other = fieldsOf((await theirs.get(page)).body, action);
    const end = fieldsOf((await mine.get(page)).body, `${action}/end`);
    bench.at('2026-11-24T08:05:00Z');
    const changed = await theirs.post(action, { ...other, everyDays: '3' });
    expect(changed.status, changed.body).toBe(303);

    const ended = await mine.post(`${action}/end`, end);
    expect(ended.status, ended.body).toBe(409);
    expect(ended.body).toContain('There now: ');
    expect(ended.body).toContain('every 3 days');

    const late = await mine.post(action, { ...form, everyDays: '5' });
    expect(late.status).toBe(409);
    const now = /action="(\/water\/routines\/[0-9a-f-]{36})"/.exec(late.body)?.[1] ?? '';
    expect(now).not.toBe(action);
    const kept = fieldsOf(late.body, now);
    expect(kept.everyDays).toEqual(['5']);
    bench.at('2026-11-24T08:10:00Z');
    expect((await mine.post(now, kept)).status).toBe(303);
    const running = await bench.service.db.routine.findMany({
      where: { systemId: hall.systemId, endedAt: null },
    });
    expect(running.map(({ everyDays }) => everyDays)).toEqual([5]);
    const last = `/water/routines/${running[0]?.id}`;
    const again = fieldsOf((await mine.post(`${action}/end`, end)).body, `${last}/end`);
    expect((await mine.post(`${last}/end`, again)).status).toBe(303);
    expect((await mine.post(`${last}/end`, again)).status, 'the same form again').toBe(303);
    const gone = await mine.post(`${last}/end`, { ...again, _key: uuidv7() });
    expect(gone.status).toBe(409);
    expect(gone.body).toContain('it was ended');
  });
});

interface Decided {
  page: string;
  action: string;
  form: Record<string, unknown>;
  /** What somebody else does between the page and the form. */
  meanwhile(): Promise<Answer>;
}

/** What is removed, ended or replaced after a look at it. */
const decided: [string, () => Promise<Decided>][] = [
  [
    'a removal of what was mended',
    async () => {
      const form = { role: 'plumber', name: 'Ana', number: '+351 21 000 00 00', note: '', testedOn: '' };
      await mine.post('/farm/contacts', form);
      const { id } = await bench.service.db.contact.findFirstOrThrow({ where: { name: 'Ana' } });
      const edit = `/farm/contacts/${id}`;
      const page = `/removals/contact/${id}`;
      const number = { number: '+351 21 000 00 09' };
      const meanwhile = async () =>
        theirs.post(edit, { ...fieldsOf((await theirs.get(edit)).body, edit), ...number });
      return { page, action: page, form: { reason: 'Wrong number' }, meanwhile };
    },
  ],
  [
    'the end of a watch for a pest that was seen again',
    async () => {
      const { systemId, tankId } = hall;
      const openedAt = new Date('2026-11-20T08:00:00Z');
      const data = { systemId, tankId, pest: 'porites_slug', openedAt, openedWhy: 'Seen at the dealer' };
      const { id } = await bench.service.db.pestWatch.create({ data });
      const page = `/stock/pests/${id}`;
      const meanwhile = () => theirs.post(`${page}/looks`, { found: '4', note: '', at: '' });
      return { page, action: `${page}/end`, form: { reason: 'None found for a month' }, meanwhile };
    },
  ],
  ...(['', '/end'] as const).map((way): [string, () => Promise<Decided>] => [
    `${way === '' ? 'a new purpose' : 'the end'} of a quarantine`,
    async () => {
      const { tankId } = hall;
      await bench.service.db.tank.update({
        where: { id: tankId },
        data: { quarantine: true, ownWater: 'A sump' },
      });
      const page = `/tanks/${tankId}/quarantine`;
      const say = (until: string) => ({ purpose: 'observe', until, days: '40' });
      expect((await theirs.post(page, say('No eggs at one look'))).status).toBe(303);
      const form = way === '' ? say('Ines: the permit is here') : { reason: 'Sold', met: 'yes' };
      const meanwhile = () => theirs.post(page, say('Odo: no eggs at three looks'));
      return { page, action: `${page}${way}`, form, meanwhile };
    },
  ]),
  [
    'a copy of targets over those of another system',
    async () => {
      const { db } = bench.service;
      const other = await db.system.create({ data: { siteId: hall.siteId, name: 'South', volumeL: 800 } });
      const [from, to] = [`/water/systems/${hall.systemId}/targets`, `/water/systems/${other.id}/targets`];
      const band = { 'calcium-low': '400', 'calcium-high': '440', 'calcium-source': 'own choice' };
      await mine.post(from, { ...fieldsOf((await mine.get(from)).body, from), ...band });
      const form = { systems: [other.id], there: 'replace' };
      const meanwhile = async () =>
        theirs.post(to, { ...fieldsOf((await theirs.get(to)).body, to), ...band, 'calcium-low': '410' });
      return { page: `${from}/copies`, action: `${from}/copies`, form, meanwhile };
    },
  ],
];

test.each(decided)('%s: is asked about again, and then goes through', async (_, make) => {
  const { page, action, form, meanwhile } = await make();
  const drawn = fieldsOf((await mine.get(page)).body, action);
  const other = await meanwhile();
  expect(other.status, other.body).toBe(303);
  const late = await mine.post(action, { ...drawn, ...form });
  expect(late.status, late.body).toBe(409);
  expect(late.body).toContain('while you were editing');
  const again = fieldsOf(late.body, action);
  expect((await mine.post(action, { ...again, ...form })).status).toBe(303);
});

/** What holds once it is said: where, what is sent, and what must stay as the first left it. */
const saidOnce: [string, () => Promise<{ action: string; form: object; kept(): Promise<unknown> }>][] = [
  [
    'that nothing is dosed',
    async () => ({
      action: `/water/systems/${hall.systemId}/never`,
      form: { what: 'doses' },
      kept: () => bench.service.db.system.findUnique({ where: { id: hall.systemId } }),
    }),
  ],
  [
    'that a sheet of labels is used up',
    async () => {
      const sheet = await bench.service.db.labelSheet.findFirstOrThrow();
      const kept = () => bench.service.db.labelSheet.findUnique({ where: { id: sheet.id } });
      return { action: `/tags/sheets/${sheet.id}/retirement`, form: {}, kept };
    },
  ],
  [
    'that a water is watched for a pest',
    async () => {
      const water = /<option value="([0-9a-f-]{36}[^"]*)"/.exec((await mine.get('/stock/pests')).body)?.[1];
      const form = { water: water ?? '', pest: 'acoel_flatworm', why: 'Seen at the dealer' };
      return { action: '/stock/pests', form, kept: () => bench.service.db.pestWatch.findMany() };
    },
  ],
];

test.each(saidOnce)('%s: said by a second person is told, and what the first said stays', async (_, make) => {
  const { action, form, kept } = await make();
  expect((await theirs.post(action, { ...form, _key: uuidv7() })).status).toBe(303);
  const first = await kept();
  bench.at('2026-11-24T09:00:00Z');
  const late = await mine.post(action, { ...form, _key: uuidv7() });
  expect(late.status, late.body).toBe(409);
  expect(await kept()).toEqual(first);
});

/** An edit by JSON: where what it changes is read, where it is sent, and what two programs set. */
interface ProgramEdit {
  read: string;
  send: string;
  /** The part of what was read that goes along. */
  along(read: Record<string, unknown>): Record<string, unknown>;
  first: Record<string, unknown>;
  second: Record<string, unknown>;
}

const seenAlong = ({ seen }: Record<string, unknown>) => ({ seen });
const versionAlong = ({ version }: Record<string, unknown>) => ({ version });

const byPrograms: [string, () => Promise<ProgramEdit>][] = [
  [
    'the targets of a system',
    async () => {
      const url = `/api/systems/${hall.systemId}/targets`;
      const band = (low: number) => ({
        ...{ 'magnesium-low': low, 'magnesium-high': 1400, 'magnesium-source': 'own choice' },
      });
      return { read: url, send: url, along: seenAlong, first: band(1290), second: band(1310) };
    },
  ],
  [
    'the starting bands of a system, confirmed',
    async () => {
      const url = `/api/systems/${hall.systemId}/targets`;
      const { db } = bench.service;
      const { systemId } = hall;
      const starting = { quantityCode: 'phosphate', bandLow: 0.02, bandHigh: 0.1, source: 'common practice' };
      await db.systemQuantity.create({ data: { systemId, ...starting, starting: true } });
      return { read: url, send: `${url}/confirm`, along: seenAlong, first: {}, second: {} };
    },
  ],
  [
    'a figure of one lot',
    async () => {
      const url = `/api/lots/${hall.lots.B1.code}`;
      const figure = (high: number) => ({ high, reason: 'Measured here' });
      const along = ({ seen }: Record<string, unknown>) => ({
        seen: (seen as Record<string, string>).par_ceiling,
      });
      return { read: url, send: `${url}/care/par_ceiling`, along, first: figure(150), second: figure(300) };
    },
  ],
  [
    'a figure of one lot, taken off',
    async () => {
      const url = `/api/lots/${hall.lots.A1.code}`;
      const owner = { lotId: hall.lots.A1.id, figure: 'par_ceiling', basis: 'own_choice' as const };
      await bench.service.db.careFigure.create({ data: { ...owner, high: 200, source: 'Measured here' } });
      const along = ({ seen }: Record<string, unknown>) => ({
        seen: (seen as Record<string, string>).par_ceiling,
      });
      const first = { reason: 'Odo: as its kind' };
      return {
        read: url,
        send: `${url}/care/par_ceiling/removal`,
        along,
        first,
        second: { reason: 'Ines' },
      };
    },
  ],
  [
    'the details of a lot',
    async () => {
      const url = `/api/lots/${hall.lots.B1.code}`;
      const { kind } = (await mine.get(url)).json() as { kind: { id: string } };
      const details = { kindId: kind.id, ownCode: '', tradeName: '', price: '', origin: 'other' };
      const first = { ...details, note: 'Odo' };
      return {
        read: url,
        send: `${url}/details`,
        along: versionAlong,
        first,
        second: { ...details, note: 'Ines' },
      };
    },
  ],
];

describe('a program that changes something', () => {
  test.each(byPrograms)(
    '%s: says what it read before, and is told where that has changed',
    async (_, make) => {
      const { read, send, along, first, second } = await make();
      const headers = { accept: 'application/json' };
      const before = along((await mine.get(read, headers)).json() as Record<string, unknown>);
      const unread = await mine.send(send, second);
      expect(unread.status, unread.body).toBe(428);
      expect(unread.json()).toMatchObject({ errors: [{ field: Object.keys(before)[0] }] });
      const taken = await theirs.send(send, { ...first, ...before });
      expect(taken.status, taken.body).toBeLessThan(300);
      const late = await mine.send(send, { ...second, ...before });
      expect(late.status, late.body).toBe(409);
      const now = along((await mine.get(read, headers)).json() as Record<string, unknown>);
      expect(now).not.toEqual(before);
    },
  );

  test('a routine: is changed and ended only by its version', async () => {
    const plan = { work: 'test', quantityCode: 'calcium', everyDays: 7, startsOn: '2026-11-25' };
    const made = await mine.send('/api/routines', { systemId: hall.systemId, ...plan });
    const { id } = made.json() as { id: string };
    expect((await mine.send(`/api/routines/${id}`, { ...plan, everyDays: 5 })).status).toBe(428);
    expect((await mine.send(`/api/routines/${id}/end`, {})).status).toBe(428);
    const { status } = await mine.send(`/api/routines/${id}`, { ...plan, everyDays: 5, version: 1 });
    expect(status).toBe(200);
    expect((await mine.send(`/api/routines/${id}/end`, { version: 1 })).status).toBe(409);
  });
});
