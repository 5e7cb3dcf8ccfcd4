import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { spokenCode } from '../../src/stock/base/codes.ts';
import { noteCondition } from '../../src/stock/lots/conditions.ts';
import { identifyLot } from '../../src/stock/lots/identifications.ts';
import { countLot } from '../../src/stock/lots/ledger.ts';
import type { LotQuery } from '../../src/stock/lots/search.ts';
import { findLots } from '../../src/stock/lots/search.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

describe('finding lots', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;
  type Made = { id: string; code: string };
  let lots: { dipsastraea: Made; goniastrea: Made; zoanthid: Made; mother: Made; gone: Made };
  const codes = async (query: Omit<LotQuery, 'siteId'>) =>
    (await findLots(bench.service.pool, { siteId: shelf.siteId, ...query }, benchNow)).lots.map(
      (lot) => lot.code,
    );
  const opinion = (lotId: string, scientificName: string, dateIdentified: string) =>
    bench.change((work) =>
      identifyLot(work, lotId, {
        scientificName,
        dateIdentified,
        identificationQualifier: '',
        identifiedBy: 'R. Oduya',
        identificationRemarks: '',
      }),
    );

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    hand = await bench.as('hand');
    lots = {
      dipsastraea: await shelf.lot({
        kindId: await shelf.kind('dipsastraea-favus'),
        slotIds: [shelf.slot('A1')],
      }),
      goniastrea: await shelf.lot({ slotIds: [shelf.slot('A10'), shelf.slot('A11')] }),
      zoanthid: await shelf.lot({ kindId: await shelf.kind('zoanthus-sociatus') }),
      mother: await shelf.lot({ isMother: true, slotIds: [shelf.slot('B1')] }),
      gone: await shelf.lot({ pieces: 1 }),
    };
    await bench.change((work) =>
      countLot(work, { lotId: lots.gone.id, reason: 'lost', pieces: 1, at: benchNow, note: '' }),
    );
  });
  afterAll(() => bench.close());

  // Indo-Pacific "Favia" are mostly Dipsastraea today (trade taxonomy article; name service).
  test('an older scientific name, a trade name and the group all lead to the lot', async () => {
    for (const text of ['favia', 'Favia favus', 'dipsastraea', 'closed brain', 'maze and closed']) {
      expect(await codes({ text }), text).toContain(lots.dipsastraea.code);
    }
    expect(await codes({ text: 'sea mat' })).toEqual([lots.zoanthid.code]);
  });

  test('every name ever given to it finds it, and the synonyms of that name', async () => {
    const lot = await shelf.lot({ kindId: await shelf.kind('brain-corals') });
    await opinion(lot.id, 'Favia speciosa', '2012-05-01');
    await opinion(lot.id, 'Platygyra sinensis', '2026-05-01');
    for (const text of ['Favia speciosa', 'Dipsastraea speciosa', 'platygyra']) {
      expect(await codes({ text }), text).toContain(lot.code);
    }
  });

  test('a place finds who stands there, and A1 is not A10', async () => {
    expect(await codes({ text: 'A1' })).toEqual([lots.dipsastraea.code]);
    expect(await codes({ text: 's2 a10' })).toEqual([lots.goniastrea.code]);
    expect(await codes({ text: 'long tank, goniastrea' })).toEqual(
      expect.arrayContaining([lots.goniastrea.code, lots.mother.code]),
    );
  });

  test('part of a code finds it; SQL wildcards are searched as plain characters', async () => {
    expect(await codes({ text: lots.zoanthid.code.slice(0, 5).toLowerCase() })).toContain(lots.zoanthid.code);
    expect(await codes({ text: '%' })).toEqual([]);
    expect(await codes({ text: '_' })).toEqual([]);
  });

  test('a whole code goes straight to the lot, in upper or lower case, typed or dictated', async () => {
    const { code } = lots.zoanthid;
    const typed = [code.toLowerCase(), code.replace('-', ''), code.split('').join(' '), spokenCode(code)];
    for (const text of typed) {
      const answer = await hand.get(`/stock?q=${encodeURIComponent(text)}`);
      expect(answer, text).toMatchObject({ status: 303, location: `/stock/${code}` });
    }
    expect((await hand.get(`/stock/${code.toLowerCase()}`)).location).toBe(`/stock/${code}`);
  });

  test('a mistyped code is answered with what is wrong with it', async () => {
    const [first = '', ...rest] = lots.zoanthid.code;
    const slip = `${first === 'K' ? 'R' : 'K'}${rest.join('')}`;
    expect((await hand.get(`/stock?q=${slip}`)).body).toContain('a character is wrong or two are swapped');
  });

  test('the stock is listed by sets: mothers, not placed, none left', async () => {
    expect(await codes({ only: 'mothers' })).toEqual([lots.mother.code]);
    expect(await codes({ only: 'unplaced' })).toContain(lots.zoanthid.code);
    expect(await codes({ only: 'unplaced' })).not.toContain(lots.mother.code);
    expect(await codes({ only: 'gone' })).toEqual([lots.gone.code]);
    expect(await codes({})).not.toContain(lots.gone.code);
    expect(await codes({ groupId: await shelf.kind('zoanthids') })).toEqual([lots.zoanthid.code]);
  });

  test('lots with open alerts are found, unless the alert is put off', async () => {
    const alert = (subjectId: string, putOff: object) =>
      bench.service.db.alert.create({
        data: {
          ...{ rule: 'paling', subjectType: 'lot', subjectId, systemId: shelf.systemId, severity: 'now' },
          ...{ title: 'Paling', finding: {}, worst: 1, openedAt: benchNow, evaluatedAt: benchNow, ...putOff },
        },
      });
    await alert(lots.goniastrea.id, {});
    await alert(lots.mother.id, {
      ...{ putOffUntil: new Date('2026-12-01T00:00:00Z'), putOffReason: 'Moved today', putOffWorst: 1 },
    });
    expect(await codes({ only: 'alerts' })).toEqual([lots.goniastrea.code]);
    expect((await hand.get('/stock?only=alerts')).body).toContain('Paling');
    expect((await hand.get(`/stock/${lots.mother.code}`)).body).toContain('Put off until 1 Dec 2026');
  });

  test('a lot that an alert on its rack tells of is found, until that alert tells of others alone', async () => {
    const { db } = bench.service;
    const before = await codes({ only: 'alerts' });
    const telling = (...told: { id: string }[]) => ({ finding: { lots: told.map(({ id }) => id) } });
    const { id } = await db.alert.create({
      data: {
        ...{
          rule: 'affected-share',
          subjectType: 'rack',
          subjectId: shelf.systemId,
          systemId: shelf.systemId,
        },
        ...{
          severity: 'today',
          title: 'Two of them pale',
          worst: 1,
          openedAt: benchNow,
          evaluatedAt: benchNow,
        },
        ...telling(lots.zoanthid, lots.dipsastraea),
      },
    });
    const also = async () =>
      (await codes({ only: 'alerts' })).filter((code) => !before.includes(code)).sort();
    expect(await also()).toEqual([lots.zoanthid.code, lots.dipsastraea.code].sort());
    await db.alert.update({ where: { id }, data: telling(lots.zoanthid) });
    expect(await also()).toEqual([lots.zoanthid.code]);
    await db.alert.update({ where: { id }, data: { finding: {} } });
    expect(await also()).toEqual([]);
    await db.alert.delete({ where: { id } });
  });

  test('a rack passed as well is a look at the lots that were well, and does not say that others recovered', async () => {
    const { db } = bench.service;
    const look = async ({ code }: { code: string }) =>
      (await findLots(bench.service.pool, { siteId: shelf.siteId, text: code }, benchNow)).lots[0]?.lastLook;
    expect(await look(lots.dipsastraea)).toBeNull();
    const noted = new Date('2026-11-20T08:00:00Z');
    const note = (lotId: string, state: 'well' | 'receding') =>
      bench.change((work) => noteCondition(work, { lotId, state, grade: null, note: '', at: noted }));
    await note(lots.dipsastraea.id, 'well');
    const walked = new Date('2026-11-22T08:00:00Z');
    const plan = await db.roundPlan.create({
      data: { siteId: shelf.siteId, name: 'Morning', startsAt: '08:00', weekdays: [1], steps: ['look'] },
    });
    const round = await db.round.create({ data: { planId: plan.id, day: walked, startedAt: walked } });
    await db.roundEntry.create({
      data: {
        ...{ id: '0197d3a0-0000-7000-8000-0000000000aa', roundId: round.id, kind: 'rack_well' },
        ...{ rackId: shelf.rackId, detail: {}, at: walked },
      },
    });
    expect(await look(lots.dipsastraea)).toEqual({ at: walked, words: 'Well' });
    await note(lots.dipsastraea.id, 'receding');
    expect(await look(lots.dipsastraea)).toEqual({ at: noted, words: 'Receding' });
  });

  test('a long list is paged', async () => {
    const page = (number: number) =>
      findLots(bench.service.pool, { siteId: shelf.siteId, page: number, perPage: 2 }, benchNow);
    const [first, second] = [await page(1), await page(2)];
    expect(first.total).toBeGreaterThan(3);
    expect(second.lots.map((lot) => lot.code)).not.toContain(first.lots[0]?.code);
  });
});
