import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { arrange, runFrom } from '../../src/racks/moves/several.rules.ts';
import { type LotMove, moveRefusals, type WantedSlot } from '../../src/stock/places/several-moves.rules.ts';
import { makeShelf, type Shelf } from '../stock/shelf.ts';
import { type Answer, type Bench, startBench, type Visitor } from '../support/service.ts';

const at = new Date('2026-11-24T08:00:00Z');

describe('which of several moves can be made', () => {
  const slot = (
    id: string,
    by: string | null = null,
    more: Partial<WantedSlot> = {},
  ): [string, WantedSlot] => [
    id,
    {
      ...{ id, place: `Rack S2, ${id}`, rackId: 'rack', systemName: 'Quiet water', retired: false },
      taken: by === null ? null : { lotId: by, called: by, kind: 'Goniastrea', gone: false },
      ...more,
    },
  ];
  const move = (lotId: string, from: string, to: string, more: Partial<LotMove> = {}): LotMove => ({
    ...{ lotId, slotIds: [to], ownSlotIds: from === '' ? [] : [from], since: null, pieces: 5 },
    ...more,
  });

  test('lots can change places, in a ring of any length', () => {
    const slots = new Map([slot('A1', 'x'), slot('A2', 'y'), slot('A3', 'z')]);
    expect(
      moveRefusals([move('x', 'A1', 'A2'), move('y', 'A2', 'A3'), move('z', 'A3', 'A1')], slots, at),
    ).toEqual(['', '', '']);
  });

  test('one that cannot leave keeps its place, and whoever wanted it is refused in turn', () => {
    const slots = new Map([slot('A1', 'x'), slot('A2', 'y'), slot('A3', 'stranger')]);
    expect(moveRefusals([move('x', 'A1', 'A2'), move('y', 'A2', 'A3')], slots, at)).toEqual([
      'Rack S2, A2 is taken by y (Goniastrea).',
      'Rack S2, A3 is taken by stranger (Goniastrea).',
    ]);
  });

  test('one slot goes to one lot', () => {
    const slots = new Map([slot('A1')]);
    expect(moveRefusals([move('x', '', 'A1'), move('y', '', 'A1')], slots, at)).toEqual([
      '',
      'Rack S2, A1 is given to another of these lots.',
    ]);
  });

  test('no pieces, a system out of service, a time before it came, the place it has', () => {
    const slots = new Map([slot('A1'), slot('A2', null, { retired: true })]);
    expect(
      moveRefusals(
        [
          move('x', '', 'A1', { pieces: 0 }),
          move('y', '', 'A2'),
          move('z', 'A9', 'A1', { since: new Date('2026-11-24T09:00:00Z') }),
          move('w', 'A1', 'A1'),
          move('v', '', 'nowhere'),
        ],
        slots,
        at,
      ),
    ).toEqual([
      'No pieces are left to place.',
      'Quiet water is out of service.',
      'It came to its place only after that time.',
      'It is there already.',
      'There is no such slot.',
    ]);
  });
});

describe('laying lots out on a rack', () => {
  const cells = [1, 2].flatMap((row) => [1, 2, 3].map((column) => ({ id: `${row}${column}`, row, column })));

  test('goes on from the chosen slot, and gives a lot of two slots two beside each other', () => {
    const lots = [
      { code: 'one', slots: 1 },
      { code: 'two', slots: 2 },
      { code: 'three', slots: 1 },
      { code: 'four', slots: 2 },
    ];
    expect([...arrange(lots, cells, '13')]).toEqual([
      ['one', ['13']],
      ['two', ['21', '22']],
      ['three', ['23']],
      ['four', []],
    ]);
    expect(runFrom({ id: '12', row: 1, column: 2 }, 2, cells)).toEqual(['12', '13']);
    expect(runFrom({ id: '13', row: 1, column: 3 }, 2, cells)).toEqual(['13']);
  });
});

describe('moving several lots', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;
  const agreedIn = ({ body }: Answer) =>
    /name="agreed" value="([^"]*)"/.exec(body.slice(body.lastIndexOf('method="post"')))?.[1] ?? '';
  const placeOf = async (code: string) => {
    const slots = await bench.service.db.placementSlot.findMany({
      where: { toAt: null, placement: { lot: { code } } },
      include: { slot: true },
    });
    return slots.map(({ slot }) => `${'AB'[slot.row - 1]}${slot.column}`).sort();
  };
  const lotsAt = async (...places: string[]) => {
    const lots = [];
    for (const place of places)
      lots.push(await shelf.lot({ slotIds: place === '' ? [] : [shelf.slot(place)] }));
    return lots;
  };

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    hand = await bench.as('hand', 'Tomas Reed');
  });
  afterAll(() => bench.close());

  test('what no field of a form can hold is refused, not an error', async () => {
    const [lot] = await lotsAt('');
    const odd = {
      ticked: lot?.code,
      to: [{ '0': lot?.code }],
      startsOn: { x: 1 },
      at: { x: 1 },
      reason: 'x',
    };
    expect((await hand.send('/racks/move-several', odd)).status).toBeLessThan(500);
  });

  test('they go to the next free slots, with what speaks against each, in one change', async () => {
    const lots = await lotsAt('A1', '', '');
    const ticked = lots.map(({ code }) => code).join('.');
    const open = await hand.get(`/racks/move-several?ticked=${ticked}&from=${shelf.slot('B1')}`);
    expect(open.body).toContain('to Rack S2, B1, from Rack S2, A1');
    expect(open.body).toContain('to Rack S2, B3, from no rack');
    expect(open.body).toContain('The light there was never measured.');
    const to = lots.map(({ code }, i) => `${code}:${shelf.slot(`B${i + 1}`)}`);
    const form = {
      ticked,
      to,
      agreed: agreedIn(open),
      back: `/racks/${shelf.rackId}`,
      reason: 'Spread out',
      at: '',
    };
    const answer = await hand.post('/racks/move-several', form);
    expect(answer).toMatchObject({ status: 303, location: `/racks/${shelf.rackId}?ticked=${ticked}` });
    for (const [i, { code }] of lots.entries()) expect(await placeOf(code)).toEqual([`B${i + 1}`]);
  });

  test('one that reaches far is said to reach those beside it, as they are said to reach others', async () => {
    const kindId = await shelf.kind('fimbriaphyllia-ancora');
    const beside = await shelf.lot({ slotIds: [shelf.slot('A11')] });
    const kin = await shelf.lot({ kindId, slotIds: [shelf.slot('B11')] });
    const lot = await shelf.lot({ kindId });
    const page = `/racks/move-several?ticked=${lot.code}&from=${shelf.slot('A12')}`;
    const { body } = await hand.get(page);
    // The reach of the care library for its group, mm.
    expect(body).toContain(`It reaches 200 mm itself; beside it: ${beside.code} (Goniastrea retiformis).`);
    expect(body).not.toContain(`${kin.code} (`);
  });

  test('two change places', async () => {
    const lots = await lotsAt('A4', 'A5');
    const [first, second] = lots as unknown as [{ code: string }, { code: string }];
    const ticked = `${first.code}.${second.code}`;
    const to = [`${first.code}:${shelf.slot('A5')}`, `${second.code}:${shelf.slot('A4')}`];
    const shown = await hand.post('/racks/move-several', { ticked, to, agreed: '', at: '', reason: '' });
    expect(shown.status).toBe(409);
    expect(await placeOf(first.code)).toEqual(['A4']);
    const form = { ticked, to, agreed: agreedIn(shown), at: '', reason: '' };
    expect((await hand.post('/racks/move-several', form)).status).toBe(303);
    expect(await placeOf(first.code)).toEqual(['A5']);
    expect(await placeOf(second.code)).toEqual(['A4']);
  });

  test('a slot that was taken meanwhile is said, and nothing is moved until somebody has read it', async () => {
    const [one] = (await lotsAt('')) as unknown as [{ code: string }];
    const to = [`${one.code}:${shelf.slot('A7')}`];
    const shown = await hand.post('/racks/move-several', {
      ticked: one.code,
      to,
      agreed: '',
      at: '',
      reason: '',
    });
    const [other] = (await lotsAt('A7')) as unknown as [{ code: string }];
    const answer = await hand.post('/racks/move-several', {
      ...{ ticked: one.code, to, agreed: agreedIn(shown), at: '', reason: '' },
    });
    expect(answer.status).toBe(409);
    expect(answer.body).toContain(`Rack S2, A7 is taken by ${other.code}`);
    expect(await placeOf(one.code)).toEqual([]);
  });

  test('they are taken off their racks together', async () => {
    const lots = await lotsAt('A9', 'A10');
    const ticked = lots.map(({ code }) => code).join('.');
    const form = { ticked, off: 'yes', at: '', reason: 'To the bench' };
    const shown = await hand.post('/racks/move-several', { ...form, agreed: '' });
    expect(shown.body).toContain('off its rack, from Rack S2, A9');
    await hand.post('/racks/move-several', { ...form, agreed: agreedIn(shown) });
    for (const { code } of lots) expect(await placeOf(code)).toEqual([]);
  });
});
