import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { daysBefore } from '../../src/science/numeric/time.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let hall: Hall;
let owner: Visitor;

beforeAll(async () => {
  bench = await startBench({ watching: false, working: false });
  hall = await makeHall(bench);
  owner = await bench.as('owner');
});
afterAll(() => bench.close());

/** A list of the door: where it is read, what of an answer are its things, and how one comes to be `days` ago. */
interface Listed {
  path: () => string;
  idsOf(answer: never): string[];
  make(days: number): Promise<string>;
  /** The parameter and the field of its cursor, where they are not "cursor" and "next". */
  cursor?: { asked: string; told: string; limit: string };
}

const db = () => bench.service.db;
const ago = (days: number) => daysBefore(benchNow, days);
const day = (days: number) => new Date(ago(days).toISOString().slice(0, 10));
const ids = (list: readonly { id: string }[]) => list.map(({ id }) => id);

/** Every second one has ended. */
const ended = (days: number) => (days % 2 === 0 ? { endedAt: ago(days - 1) } : {});

const endedWhy = (days: number) => (days % 2 === 0 ? { ...ended(days), endReason: 'Enough' } : {});

async function correction(days: number): Promise<string> {
  const reading = await db().reading.create({
    data: {
      systemId: hall.systemId,
      quantityCode: 'calcium',
      value: 400,
      uncertainty: 5,
      at: ago(days),
      enteredText: '400',
      enteredUnit: 'mg/L',
    },
  });
  const basis = {
    ...{ means: 'calcium_chloride', purity: 1, solution: null, limewater: null, makeUp: null },
    ...{ fromAt: ago(days), fromU: 5, relativeU: 0.02, drift: null, usualPerDay: 0, changes: [], afterU: [] },
  };
  const { id } = await db().correction.create({
    data: {
      ...{ systemId: hall.systemId, quantityCode: 'calcium', substance: 'calcium_chloride', basis },
      ...{ readingId: reading.id, fromValue: 400, targetValue: 420, dailyCap: 20, capSource: 'own choice' },
      ...{ volumeL: 1800, startsOn: day(days), createdAt: ago(days), stoppedAt: ago(days - 1) },
      stopReason: 'Enough',
    },
  });
  return id;
}

async function child(days: number): Promise<string> {
  const { kindId } = await db().lot.findUniqueOrThrow({ where: { id: hall.lots.A1.id } });
  const { code } = await db().lot.create({
    data: {
      ...{ siteId: hall.siteId, kindId, parentId: hall.lots.A1.id, arrivedAt: ago(days) },
      code: `CH-${uuidv7().slice(-8).toUpperCase()}`,
    },
  });
  return code;
}

async function cutByTool(days: number): Promise<string> {
  const code = await child(days);
  const made = await db().lot.findUniqueOrThrow({ where: { code } });
  const tool = `Saw ${uuidv7()}`;
  await db().cut.create({
    data: { fromLotId: hall.lots.A1.id, intoLotId: made.id, at: ago(days), pieces: 2 + (days % 3), tool },
  });
  return tool;
}

async function stocktake(): Promise<string> {
  const { id } = await db().stocktake.create({
    data: { siteId: hall.siteId, name: 'All', hidden: false, twoPeople: false, startedAt: benchNow },
  });
  return id;
}

let counted = '';
async function countedRack(days: number): Promise<string> {
  if (counted === '') counted = await stocktake();
  const rack = await db().rack.create({
    data: {
      ...{ tankId: hall.tankId, name: `Shelf ${uuidv7()}`, rows: 1, columns: 1, position: 50, depthMm: 200 },
      base: 'egg_crate',
    },
  });
  await db().stocktakeRack.create({
    data: { stocktakeId: counted, rackId: rack.id, position: 100 - Math.ceil(days / 2) },
  });
  return rack.id;
}

const ofSystem = (path: string) => () => `/api/v1/${path}?systemId=${hall.systemId}`;

const lists: Record<string, Listed> = {
  acclimations: {
    path: () => '/api/v1/acclimations?',
    idsOf: ({ acclimations }: { acclimations: { id: string }[] }) => ids(acclimations),
    make: async (days) =>
      (
        await db().acclimation.create({
          data: {
            ...{ siteId: hall.siteId, name: 'Up', purpose: 'brighter', received: 'stated', fromDli: 5 },
            ...{ targetDli: 9, maxStepRatio: 1.3, dwellDays: 7, startsOn: day(days), createdAt: ago(days) },
            ...endedWhy(days),
          },
        })
      ).id,
  },
  'plans of moves': {
    path: () => '/api/v1/move-plans?',
    idsOf: ({ plans }: { plans: { id: string }[] }) => ids(plans),
    make: async (days) =>
      (
        await db().movePlan.create({
          data: { siteId: hall.siteId, name: 'Moves', createdAt: ago(days), ...endedWhy(days) },
        })
      ).id,
  },
  corrections: {
    path: () => `/api/v1/systems/${hall.systemId}/corrections?`,
    idsOf: ({ corrections }: { corrections: { id: string }[] }) => ids(corrections),
    make: correction,
  },
  routines: {
    path: ofSystem('routines'),
    idsOf: ({ running, ended }: { running: { id: string }[]; ended: { id: string }[] }) =>
      ids([...running, ...ended]),
    make: async (days) =>
      (
        await db().routine.create({
          data: {
            ...{ systemId: hall.systemId, work: 'feeding', everyDays: 7, startsOn: day(days) },
            ...{ detail: { food: uuidv7(), amountG: null, tankId: null, pumpsOffMin: null } },
            ...{ createdAt: ago(days), ...ended(days) },
          },
        })
      ).id,
  },
  doses: {
    path: ofSystem('doses'),
    idsOf: ({ entries }: { entries: { id: string }[] }) => ids(entries),
    make: async (days) =>
      (
        await db().dose.create({
          data: { systemId: hall.systemId, at: ago(days), substance: 'Trace', amount: 1, unit: 'mL' },
        })
      ).id,
  },
  'water changes': {
    path: ofSystem('water-changes'),
    idsOf: ({ entries }: { entries: { id: string }[] }) => ids(entries),
    make: async (days) =>
      (await db().waterChange.create({ data: { systemId: hall.systemId, at: ago(days), volumeL: 10 } })).id,
  },
  feedings: {
    path: ofSystem('feedings'),
    idsOf: ({ entries }: { entries: { id: string }[] }) => ids(entries),
    make: async (days) =>
      (await db().feeding.create({ data: { systemId: hall.systemId, at: ago(days), food: 'Plankton' } })).id,
  },
  'racks of a stocktake': {
    path: () => `/api/v1/stocktakes/${counted}?`,
    idsOf: ({ racks }: { racks: { id: string }[] }) => ids(racks),
    make: countedRack,
  },
  'lots made of one': {
    path: () => `/api/v1/lots/${hall.lots.A1.code}?`,
    idsOf: ({ children }: { children: { code: string }[] }) => children.map(({ code }) => code),
    make: child,
    cursor: { asked: 'childrenCursor', told: 'nextChildren', limit: 'childrenLimit' },
  },
  'survival by tool': {
    path: () => '/api/v1/survival?by=tool&since=all',
    idsOf: ({ groups }: { groups: { name: string }[] }) => groups.map(({ name }) => name),
    make: cutByTool,
  },
};

test.each(Object.keys(lists))(
  '%s: following “next” finds each once, also while new ones come in',
  async (name) => {
    const { path, idsOf, make, cursor } = lists[name] as Listed;
    const { asked, told, limit } = cursor ?? { asked: 'cursor', told: 'next', limit: 'limit' };
    const there: string[] = [];
    // Two of each time: their ids alone tell which comes first.
    for (const days of [2, 3, 3, 4, 4, 5, 6]) there.push(await make(days));
    const read = async (more: string) => (await owner.get(`${path()}&${more}`)).json() as never;
    const found: string[] = [];
    let [next, pages]: [string | null, number] = ['', 0];
    while (next !== null) {
      const answer = await read(`${limit}=2${next === '' ? '' : `&${asked}=${next}`}`);
      expect(idsOf(answer).length).toBeLessThanOrEqual(2);
      found.push(...idsOf(answer));
      next = answer[told] as string | null;
      pages += 1;
      if (pages < 4) await make(pages);
    }
    expect(found.filter((id) => there.includes(id)).toSorted()).toEqual(there.toSorted());
    expect(new Set(found).size).toBe(found.length);
    // Read whole, it is one page in the same order.
    const whole = await read('');
    expect(whole[told]).toBeNull();
    expect(
      idsOf(whole)
        .filter((id) => there.includes(id))
        .toSorted(),
    ).toEqual(there.toSorted());
  },
);

test.each(Object.keys(lists))('%s: what is no cursor, and too much at once, are told so', async (name) => {
  const { path, make, cursor } = lists[name] as Listed;
  const { asked, limit } = cursor ?? { asked: 'cursor', limit: 'limit' };
  await make(5);
  for (const wrong of [`${asked}=none`, `${asked}=WyJnb25lIl0`, `${limit}=0`, `${limit}=100000`]) {
    const { status, body } = await owner.get(`${path()}&${wrong}`, { accept: 'application/json' });
    expect(`${wrong}: ${status}`, body).toBe(`${wrong}: 422`);
  }
});
