import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { identifyLot } from '../../src/stock/lots/identifications.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

describe('the stock as people use it', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;
  let manager: Visitor;
  const record = async (code: string) => (await hand.get(`/stock/${code}`)).body;
  const lotOf = (id: string) => bench.service.db.lot.findUniqueOrThrow({ where: { id } });

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    hand = await bench.as('hand', 'Tomas Reed');
    manager = await bench.as('manager', 'Ines Varga');
  });
  afterAll(() => bench.close());

  test('a lot is taken in, and its code is shown large with how to say it', async () => {
    const kindId = await shelf.kind('goniastrea-retiformis');
    const answer = await hand.post('/stock', {
      kindId,
      pieces: 6,
      origin: 'Grown here',
      scientificName: 'Goniastrea edwardsi',
      identificationQualifier: 'cf.',
      identifiedBy: 'Tomas Reed',
      slot: shelf.slot('A1'),
    });
    expect(answer.status).toBe(303);
    expect(answer.location).toMatch(/^\/stock\/.{3}-.{3}\/card$/);
    const card = await hand.get(answer.location ?? '');
    expect(card.body).toMatch(/class="code-large">[245678FKNRTWY]{3}-/);
    expect(card.body).toMatch(
      /two|four|five|six|seven|eight|Foxtrot|Kilo|November|Romeo|Tango|Whiskey|Yankee/,
    );
    const code = (answer.location ?? '').split('/')[2] ?? '';
    const body = await record(code);
    expect(body).toContain('<i>Goniastrea</i> cf. <i>edwardsi</i>');
    expect(body).toContain('Rack S2, A1');
    expect(body).toContain('6 pieces received; 6 in all');
  });

  test('a refused form comes back as typed, with what to do beside the field', async () => {
    const answer = await hand.post('/stock', {
      kindId: '',
      pieces: 'several',
      origin: 'A box of pieces',
      identificationQualifier: '',
    });
    expect(answer.status).toBe(422);
    expect(answer.body).toContain('value="A box of pieces"');
    expect(answer.body).toContain('Choose the kind it is kept as.');
    expect(answer.body).toContain('<title>Error: Take in a lot');
  });

  test('a move by form goes where it should, and a taken slot brings the form back naming who is there', async () => {
    const first = await shelf.lot({ slotIds: [shelf.slot('A2')] });
    const second = await shelf.lot();
    const taken = await hand.post(`/lots/${second.id}/placements`, {
      slot: shelf.slot('A2'),
      reason: 'Dimmer',
    });
    expect(taken.status).toBe(409);
    expect(taken.body).toContain(`Rack S2, A2 is taken by ${first.code}`);
    expect(taken.body).toContain('value="Dimmer"');
    const moved = await hand.post(`/lots/${second.id}/placements`, {
      slot: [shelf.slot('A3'), shelf.slot('A4')],
      back: '/racks',
    });
    expect(moved).toMatchObject({ status: 303, location: '/racks' });
    expect(await record(second.code)).toContain('Rack S2, A3 to A4');
    const elsewhere = await hand.post(`/lots/${second.id}/placements`, {
      slot: shelf.slot('A3'),
      back: '//elsewhere.example',
    });
    expect(elsewhere.location).toBe(`/stock/${second.code}`);
  });

  test('the same form sent twice is one line in the ledger', async () => {
    const lot = await shelf.lot({ pieces: 9 });
    const form = { reason: 'lost', pieces: 2, _key: '0197d3a0-0000-7000-8000-000000000001' };
    const answers = [];
    for (let i = 0; i < 2; i++) answers.push(await hand.post(`/lots/${lot.id}/ledger`, form));
    expect(answers.map((answer) => answer.status)).toEqual([303, 303]);
    expect(await bench.service.db.ledgerEntry.count({ where: { lotId: lot.id, reason: 'lost' } })).toBe(1);
    expect((await lotOf(lot.id)).pieces).toBe(7);
  });

  test('a count below zero is refused with how many there are', async () => {
    const lot = await shelf.lot({ pieces: 3 });
    const answer = await hand.post(`/lots/${lot.id}/ledger`, { reason: 'sold', pieces: 4 });
    expect(answer.status).toBe(409);
    expect(answer.body).toContain('only 3 pieces');
  });

  test('a condition is noted, seen on the record and in the list, and voided without vanishing', async () => {
    const lot = await shelf.lot({ slotIds: [shelf.slot('A5')] });
    await hand.post(`/lots/${lot.id}/conditions`, { state: 'paling', grade: 2, note: 'Pale at the rim' });
    expect(await record(lot.code)).toContain('Paling, about a third');
    const note = await bench.service.db.condition.findFirstOrThrow({ where: { lotId: lot.id } });
    expect((await hand.get(`/stock/${lot.code}`)).body).toContain(`href="/conditions/${note.id}/voiding"`);
    expect((await hand.get(`/conditions/${note.id}/voiding`)).body).toContain('Pale at the rim');
    await hand.post(`/conditions/${note.id}/voiding`, { reason: 'The neighbour was meant' });
    const body = await record(lot.code);
    expect(body).toContain('Voided');
    expect(body).toContain('The neighbour was meant');
  });

  test('a cut makes a lot with the kind, the name and the papers of its mother', async () => {
    const mother = await shelf.lot({
      pieces: 2,
      isMother: true,
      permit: 'W-2026-14',
      slotIds: [shelf.slot('A6')],
    });
    await bench.change((work) =>
      identifyLot(work, mother.id, {
        scientificName: 'Goniastrea retiformis',
        identificationQualifier: 'aff.',
        identifiedBy: 'R. Oduya',
        dateIdentified: '2026-03-01',
        identificationRemarks: 'Corallite walls',
      }),
    );
    const answer = await hand.post(`/lots/${mother.id}/cuts`, {
      ...{ pieces: 8, usedUp: 1, method: 'Band saw', despite: 'a branch broke on the way' },
    });
    const code = (answer.location ?? '').split('/')[2] ?? '';
    const made = await bench.service.db.lot.findUniqueOrThrow({
      where: { code },
      include: { identifications: true, ledger: true, cutInto: true },
    });
    expect(made).toMatchObject({ parentId: mother.id, pieces: 8, permit: 'W-2026-14', isMother: false });
    expect(made.identifications).toMatchObject([
      { scientificName: 'Goniastrea retiformis', identifiedBy: 'R. Oduya' },
    ]);
    expect(made.ledger).toMatchObject([{ reason: 'cut_in', change: 8, cutId: made.cutInto?.id }]);
    expect((await lotOf(mother.id)).pieces).toBe(1);
    expect(await record(mother.code)).toContain(`Cut: 8 pieces into ${code}, band saw`);
    expect(await record(code)).toContain(`8 pieces cut from ${mother.code}, band saw`);
  });

  test('a split moves pieces and loses none', async () => {
    const lot = await shelf.lot({ pieces: 5 });
    const all = await hand.post(`/lots/${lot.id}/splits`, { pieces: 5 });
    expect(all.status).toBe(422);
    expect(all.body).toContain('Move the lot instead');
    const answer = await hand.post(`/lots/${lot.id}/splits`, { pieces: 2 });
    const code = (answer.location ?? '').split('/')[2] ?? '';
    const made = await bench.service.db.lot.findUniqueOrThrow({ where: { code } });
    expect([made.pieces, (await lotOf(lot.id)).pieces]).toEqual([2, 3]);
    expect(await record(code)).toContain(`Out of ${lot.code}`);
  });

  test('an edit over somebody else’s edit is refused and keeps what was typed', async () => {
    const lot = await shelf.lot();
    const kindId = await shelf.kind('goniastrea-retiformis');
    const edit = { kindId, version: 1, note: 'Kept back' };
    expect((await hand.post(`/lots/${lot.id}/details`, edit)).status).toBe(303);
    const late = await manager.post(`/lots/${lot.id}/details`, { ...edit, note: 'For the fair' });
    expect(late.status).toBe(409);
    expect(late.body).toContain('Somebody changed this lot');
    expect(late.body).toContain('For the fair');
  });

  test('a later opinion supersedes, an earlier one stays, and one of an older day does not come on top', async () => {
    const lot = await shelf.lot();
    const say = (scientificName: string, dateIdentified: string) =>
      hand.post(`/lots/${lot.id}/identifications`, {
        scientificName,
        identificationQualifier: '',
        identifiedBy: 'R. Oduya',
        dateIdentified,
        // Another kind than it is kept as is asked about.
        asTyped: 'yes',
      });
    await say('Favites pentagona', '2026-11-20');
    await say('Favia favus', '2010-05-05');
    const body = await record(lot.code);
    expect(body).toMatch(/class="lead">[\s\S]*?<i>Favites pentagona<\/i>/);
    expect(body).toContain('Identified as Favia favus');
    expect((await say('Favites pentagona', '2027-01-01')).status).toBe(422);
  });

  test('a manager sets a figure for one lot with a reason; a hand may not', async () => {
    const lot = await shelf.lot();
    const path = `/lots/${lot.id}/care/par_ceiling`;
    expect((await hand.post(path, { high: 120, reason: 'Paled at 140' })).status).toBe(403);
    expect((await manager.post(path, { high: 120, reason: '' })).status).toBe(422);
    expect((await manager.post(path, { high: 120, reason: 'Paled at 140' })).status).toBe(303);
    expect(await record(lot.code)).toContain('Paled at 140');
    await manager.post(`${path}/removal`, { reason: 'It was the jet' });
    expect(await record(lot.code)).not.toContain('Paled at 140');
  });

  test('the palytoxin caution stands on the record and before cutting', async () => {
    const lot = await shelf.lot({ kindId: await shelf.kind('palythoa-tuberculosa') });
    for (const path of [`/stock/${lot.code}`, `/stock/${lot.code}/cut`]) {
      const { body } = await hand.get(path);
      expect(body).toContain('gloves and eye protection');
      expect(body).toContain('no boiling');
      expect(body).toContain('not a replacement for a physician');
    }
  });

  test('an unknown code says what is wrong with it', async () => {
    const answer = await hand.get('/stock/R46-TKF');
    expect(answer.status).toBe(404);
    expect(answer.body).toContain('Read the label again');
  });
});
