import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

const key = (n: number) => ({ 'idempotency-key': `0197d3a0-0000-7000-8000-00000000${1000 + n}` });

describe('lots as JSON', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;
  const piecesOf = async (id: string) =>
    (await bench.service.db.lot.findUniqueOrThrow({ where: { id } })).pieces;

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    hand = await bench.as('hand');
  });
  afterAll(() => bench.close());

  test('a lot is taken in with its identification and its slot at once, and read back', async () => {
    const made = await hand.send('/api/lots', {
      kindId: await shelf.kind('goniastrea-retiformis'),
      pieces: 4,
      sizeMm: 25,
      isMother: true,
      permit: 'C-2026-3',
      scientificName: 'Goniastrea retiformis',
      identificationQualifier: 'cf.',
      identifiedBy: 'R. Oduya',
      at: '2026-11-20T10:00:00Z',
      slot: [shelf.slot('A1')],
    });
    expect(made.status).toBe(201);
    const { code } = made.json() as { code: string };
    const read = (await hand.get(`/api/lots/${code}`)).json();
    expect(read).toMatchObject({
      ...{ code, pieces: 4, sizeMm: 25, isMother: true, permit: 'C-2026-3' },
      arrivedAt: '2026-11-20T10:00:00.000Z',
      identification: { scientificName: 'Goniastrea retiformis', identificationQualifier: 'cf.' },
      place: { words: 'Rack S2, A1', systemId: shelf.systemId },
      care: { caution: { from: 'group' } },
    });
    expect((await hand.get('/api/lots?q=goniastrea')).json()).toMatchObject({ total: 1, lots: [{ code }] });
  });

  test('what is refused comes as problem details that name the fields', async () => {
    const answer = await hand.send('/api/lots', { kindId: '', pieces: 0 });
    expect(answer.status).toBe(422);
    expect(answer.headers['content-type']).toContain('application/problem+json');
    const { errors } = answer.json() as { errors: { field: string }[] };
    expect(errors.map((error) => error.field)).toEqual(expect.arrayContaining(['kindId', 'pieces']));
    const unknown = await hand.send('/api/lots', { kindId: 'none', pieces: 1 });
    expect(unknown.status).toBe(422);
    expect(unknown.json()).toMatchObject({ errors: [{ field: 'kindId' }] });
    expect((await hand.get('/api/lots/R46-TKF', { accept: 'application/json' })).status).toBe(404);
  });

  test('everything that is done to a lot can be done by its code', async () => {
    const { id, code } = await shelf.lot({ pieces: 10 });
    const post = (noun: string, body: object) => hand.send(`/api/lots/${code}/${noun}`, body);
    expect((await post('placements', { slot: [shelf.slot('A2')] })).json()).toMatchObject({
      changed: true,
      place: 'Rack S2, A2',
    });
    expect((await post('conditions', { state: 'paling', grade: 1 })).status).toBe(201);
    expect((await post('conditions', { state: 'lost', lostPieces: 1, note: 'Fell' })).status).toBe(201);
    expect((await post('ledger', { reason: 'sold', pieces: 2 })).json()).toMatchObject({ pieces: 7 });
    const cut = { pieces: 3, usedUp: 1 };
    expect((await post('cuts', cut)).json()).toMatchObject({ status: 409, errors: [{ field: 'despite' }] });
    expect((await post('cuts', { ...cut, despite: 'To save the tips' })).status).toBe(201);
    expect((await post('splits', { pieces: 2 })).status).toBe(201);
    expect(await piecesOf(id)).toBe(4);
    expect((await post('care/par_ceiling', { high: 100, reason: 'Pales' })).status).toBe(403);
    expect((await post('placements', { off: true })).json()).toMatchObject({
      changed: true,
      placementId: null,
    });
  });

  test('the same key twice is one line; the same key with other content is refused', async () => {
    const { id } = await shelf.lot({ pieces: 10 });
    const send = (pieces: number) => hand.send(`/api/lots/${id}/ledger`, { reason: 'lost', pieces }, key(1));
    expect([(await send(2)).json(), (await send(2)).json()]).toMatchObject([{ pieces: 8 }, { pieces: 8 }]);
    expect((await send(3)).status).toBe(422);
    expect(await piecesOf(id)).toBe(8);
  });

  test('two tablets move into one slot at once: one is answered 201, the other 409 naming the winner', async () => {
    const lots = [await shelf.lot(), await shelf.lot()];
    const answers = await Promise.all(
      lots.map(({ id }) => hand.send(`/api/lots/${id}/placements`, { slot: [shelf.slot('B1')] })),
    );
    expect(answers.map((answer) => answer.status).sort()).toEqual([201, 409]);
    const winner = lots[answers.findIndex((answer) => answer.status === 201)];
    const refused = answers.find((answer) => answer.status === 409)?.json();
    expect(refused).toMatchObject({ detail: expect.stringContaining(`is taken by ${winner?.code}`) });
  });
});
