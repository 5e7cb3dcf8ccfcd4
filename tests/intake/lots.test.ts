import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { currencySaid } from '../../src/intake/lots/lot-cells.rules.ts';
import { readSlots } from '../../src/intake/lots/places.rules.ts';
import { noteCondition } from '../../src/stock/lots/conditions.ts';
import { makeShelf } from '../stock/shelf.ts';
import { fieldsOf } from '../support/forms.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { bring } from './files.ts';

const sheet = `Code,Name,Pieces,Rack,Slots,Mother,Size (mm),Received,Supplier,Permit,Price,Note
G-1,Goniastrea retiformis,1,Rack S2,A1,,80,2026-09-01,Oduya Reef Culture,PT 2211,,the mother
G-2,Harbour Green,6,rack s2,A2-A4,G-1,25,2026-11-02,Oduya Reef Culture,,12.50,
G-3,Goniastrea retiformes,4,Rack S2,row B,,,2026-11-02,,,"9,00",a slip in the name
G-4,Harbour Green,2,Rack S2,A4,,,2026-11-02,,,,stands where G-2 stands
G-5,Harbour Green,some,Rack S2,A9,,,99/99/2026,,,,
G-2,Harbour Green,3,,,,,2026-11-02,,,,the code again
`;

describe('stock from a file', () => {
  let bench: Bench;
  let manager: Visitor;
  const lots = () =>
    bench.service.db.lot.findMany({ orderBy: { ownCode: 'asc' }, include: { kind: true, parent: true } });
  const brought = async (name: string, content: string) => {
    const answer = await bring(manager, name, content, '/stock/imports');
    expect(answer.status, answer.body).toBe(303);
    return answer.location ?? '';
  };
  /** Answers what the page asks: kinds as suggested unless told otherwise. */
  const answerAll = async (at: string, answers: Record<string, string> = {}) => {
    const typed = fieldsOf((await manager.get(at)).body, `${at}/reading`);
    const fields = Object.fromEntries(Object.entries(typed).map(([name, all]) => [name, all.at(-1) ?? '']));
    return manager.post(`${at}/reading`, { ...fields, ...answers });
  };

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    await makeShelf(bench);
    manager = await bench.as('manager', 'Ines Varga');
  });
  afterAll(() => bench.close());

  let at: string;

  test('is shown as it would be taken, and asks each name once, with a suggestion', async () => {
    at = await brought('stock.csv', sheet);
    const { body } = await manager.get(at);
    expect(body).toContain('Nothing is loaded yet');
    expect(body).toContain('Which currency are the prices in?');
    expect(body).toContain('Harbour Green');
    const typed = fieldsOf(body, `${at}/reading`);
    expect(typed['kind-goniastrea~20retiforme']).toEqual(['Goniastrea retiformis']);
    expect(typed['kind-harbour~20green']).toEqual(['']);
    expect(await lots()).toHaveLength(0);
    expect((await manager.post(`${at}/acceptance`, {})).status).toBe(409);
  });

  test('names each fault by row and column, in plain words', async () => {
    await answerAll(at, { currency: 'EUR', since: 'received', 'kind-harbour~20green': 'Favites pentagona' });
    const { body } = await manager.get(`${at}?show=refused`);
    expect(body).toMatch(/>5<[\s\S]*Row 3 is there too/);
    expect(body).toMatch(/>6<[\s\S]*<b>Pieces<\/b>: “some” is not a whole number/);
    expect(body).toMatch(/>6<[\s\S]*<b>Received<\/b>: “99\/99\/2026” is not a day/);
    expect(body).toMatch(/>7<[\s\S]*<b>Code<\/b>: Row 3 has this code too/);
    expect(body).toContain('3 lots would be taken in');
  });

  test('is taken in one go: kinds, places, mothers, sizes, prices', async () => {
    const taken = await manager.post(`${at}/acceptance`, {});
    expect(taken.status, taken.body).toBe(303);
    const [mother, cut, typo, none] = await lots();
    expect(none).toBeUndefined();
    expect(mother).toMatchObject({ ownCode: 'G-1', tradeName: '', pieces: 1, sizeMm: 80, permit: 'PT 2211' });
    expect(mother?.kind.code).toBe('goniastrea-retiformis');
    expect(cut).toMatchObject({
      tradeName: 'Harbour Green',
      pieces: 6,
      priceMinor: 1250,
      origin: 'Oduya Reef Culture',
    });
    expect(cut?.kind.name).toBe('Favites pentagona');
    expect(cut?.parent?.ownCode).toBe('G-1');
    expect(cut?.arrivedAt.toISOString()).toBe('2026-11-02T12:00:00.000Z');
    expect(typo).toMatchObject({ priceMinor: 900, pieces: 4 });
    expect(typo?.kind.code).toBe('goniastrea-retiformis');
    expect((await manager.get(`/stock/${cut?.code}`)).body).toContain('Rack S2, A2 to A4');
    expect((await manager.get(`/stock/${typo?.code}`)).body).toContain('Rack S2, B1 to B12');
    expect((await bench.service.db.site.findFirstOrThrow()).currency).toBe('EUR');
    const refused = (await manager.get(`${at}/refused.csv`)).body;
    expect(refused.split('\r\n').filter(Boolean)).toHaveLength(4);
    expect(refused).toContain('Pieces: “some” is not a whole number');
  });

  test('the same file again, its columns in another order, changes nothing and asks no name again', async () => {
    const swapped = sheet
      .split('\n')
      .map((line) => line.replace(/^([^,]*),([^,]*),/, '$2,$1,'))
      .join('\n');
    for (const content of [sheet, swapped]) {
      const again = await brought('again.csv', content);
      const { body } = await manager.get(`${again}?show=present`);
      expect(body).toContain('0 lots would be taken in');
      expect(body).toContain('3 rows are here already');
      expect(body).not.toContain('Which kind is each of these?');
      expect((await manager.post(`${again}/acceptance`, {})).status).toBe(409);
      await manager.post(`${again}/dismissal`, {});
    }
    expect(await lots()).toHaveLength(3);
  });

  test('a row that says something else of a lot that is here is refused, not merged', async () => {
    const other = await brought('other.csv', 'code,name,pieces,received\ng-2,Harbour Green,60,2026-11-02\n');
    const { body } = await manager.get(`${other}?show=refused`);
    expect(body).toContain('A lot with this code is here already');
    await manager.post(`${other}/dismissal`, {});
  });

  test('a currency that stands beside the prices is proposed, and two are not', async () => {
    for (const [marks, proposed] of [
      [['12,50 €', '€ 8'], 'EUR'],
      [['€ 12', '£ 9'], ''],
      [['12.50', '9'], ''],
      [['GBP 12', '9'], 'GBP'],
    ] as const)
      expect(currencySaid(marks)).toBe(proposed);
  });

  test('is a matter for managers', async () => {
    const hand = await bench.as('hand');
    expect((await hand.get('/stock/imports')).status).toBe(403);
  });

  test('is taken back as a whole, and can then be brought anew', async () => {
    const back = await manager.post(`${at}/withdrawal`, { reason: 'the wrong sheet' });
    expect(back.status, back.body).toBe(303);
    expect((await lots()).map(({ pieces }) => pieces)).toEqual([0, 0, 0]);
    expect(await bench.service.db.placement.count()).toBe(0);
    const anew = await brought('anew.csv', sheet);
    await answerAll(anew, { since: 'now' });
    expect((await manager.post(`${anew}/acceptance`, {})).status).toBe(303);
    expect((await lots()).filter(({ pieces }) => pieces > 0)).toHaveLength(3);
    const placed = await bench.service.db.placement.findMany();
    expect(placed.map(({ fromAt }) => fromAt)).toEqual([benchNow, benchNow, benchNow]);
    at = anew;
  });

  test('stays when something rests on one of its lots, and says what', async () => {
    const lot = (await lots()).find(({ ownCode, pieces }) => ownCode === 'G-2' && pieces > 0);
    await bench.change((work) =>
      noteCondition(work, {
        lotId: lot?.id ?? '',
        state: 'well',
        grade: null,
        at: benchNow,
        note: '',
      } as never),
    );
    const back = await manager.post(`${at}/withdrawal`, { reason: 'the wrong sheet' });
    expect(back.status).toBe(409);
    expect(back.body).toContain(`${lot?.code} was looked at`);
    expect((await lots()).filter(({ pieces }) => pieces > 0)).toHaveLength(3);
  });

  test('a name that means another kind than the kind beside it is asked about, never taken in silence', async () => {
    const of = [
      'Code,Name,Kind,Pieces,Received',
      'K-1,Zoanthus sociatus,Goniastrea retiformis,2,2026-11-02',
      'K-2,Favites pentagonna,Goniastrea retiformis,3,2026-11-02',
      'K-3,Harbour Light,Goniastrea retiformis,1,2026-11-02',
      'K-4,Goniastrea,Goniastrea retiformis,1,2026-11-02',
    ].join('\n');
    const said = await brought('conflict.csv', of);
    const { body } = await manager.get(said);
    expect(body).toContain('What is “Zoanthus sociatus”, which Kind has as Goniastrea retiformis?');
    expect(body).toContain('perhaps Favites pentagona');
    expect(body).toContain('2 lots would be taken in');
    const asked = [...new Set([...body.matchAll(/name="(conflict-[^"]+)"/g)].map(([, id = '']) => id))];
    expect(asked).toHaveLength(2);
    const [one = '', other = ''] = asked.toSorted((a) => (a.includes('zoanthu') ? -1 : 1));
    await answerAll(said, { [one]: 'name', [other]: 'kind' });
    expect((await manager.post(`${said}/acceptance`, {})).status).toBe(303);
    const taken = (await lots()).filter(({ ownCode }) => ownCode.startsWith('K-'));
    expect(taken.map(({ kind, tradeName }) => [kind.name, tradeName])).toEqual([
      ['Zoanthus sociatus', ''],
      ['Goniastrea retiformis', 'Favites pentagonna'],
      ['Goniastrea retiformis', 'Harbour Light'],
      ['Goniastrea retiformis', 'Goniastrea'],
    ]);
  });

  test('a sheet as farms keep it is read: two names, ticks, ranges, dashes, a supplier, a sign, a sum', async () => {
    const kept = [
      'No.;Name ;Trade name;Pcs;Where;Mother?;Size;Came in;From;Retail;Tested by',
      'M-1;Acro tenuis;Harbour Green;x4;Rack S2-A9;y;25-30mm;13/05/26;Marine Imports;€ 25,00;Rui',
      'M-2;Mushroom;;3 pcs;Rack S2-A10;;3cm;14.5.2026;;"1.250,00";Rui',
      ';TOTAL;;7;;;;;;"1.275,00";',
    ].join('\n');
    const kept1 = await brought('kept.csv', kept);
    const { body } = await manager.get(`${kept1}?show=refused`);
    expect(body).toContain('A row of totals, not of a lot.');
    expect(body).toContain('Nothing is taken of the column “Tested by”.');
    const typed = fieldsOf(body, `${kept1}/reading`);
    expect(typed).toMatchObject({
      'kind-acro~20tenui': ['Acropora tenuis'],
      'kind-mushroom': ['Mushroom corals'],
    });
    await answerAll(kept1, { 'size-range': 'smaller', since: 'now' });
    expect((await manager.get(kept1)).body).toContain('2 lots would be taken in');
    expect((await manager.post(`${kept1}/acceptance`, {})).status).toBe(303);
    const [first, second] = (await lots()).filter(({ ownCode }) => ownCode.startsWith('M-'));
    expect(first).toMatchObject({ tradeName: 'Harbour Green', pieces: 4, sizeMm: 25, isMother: true });
    expect(first).toMatchObject({ origin: 'Marine Imports', priceMinor: 2500 });
    expect(second).toMatchObject({
      tradeName: '',
      pieces: 3,
      sizeMm: 30,
      isMother: false,
      priceMinor: 125000,
    });
    expect((await manager.post(`${kept1}/withdrawal`, { reason: 'tried' })).status).toBe(303);
  });

  test.each(['row B', 'B', 'Reihe B', 'rangée b', 'fila B'])('“%s” is the whole row of a rack', (text) => {
    const read = readSlots(text, { name: 'S2', rows: 2, columns: 3 });
    expect(read).toMatchObject({ cells: [1, 2, 3].map((column) => ({ row: 2, column })) });
  });

  test('a sheet in another language asks nothing of its titles, remarks and sums', async () => {
    const kept = [
      'Bestand der Zucht;;;;;;;',
      'Stand: 28.11.2026;;;;;;;',
      'Nr.;Korallenart;Stk.;Regal / Rack;Platz;Größe;gekauft am;Lieferant',
      'D-1;Acropora tenuis;12 Stk;;;25 mm;23. Februar 2026;Riffhandel',
      '"Sonderposten – noch nicht',
      'einsortiert";;;;;;;',
      'D-2;Goniastrea retiformis;3;;;2,5 cm;17.02.2026;Riffhandel',
      'Summe;;15;;;;;',
    ].join('\n');
    const there = await brought('bestand.csv', kept);
    const { body } = await manager.get(`${there}?show=refused`);
    expect(body).toContain('2 lots would be taken in');
    expect(body).toContain('One cell alone: a remark, not a lot.');
    expect(body).toContain('A row of totals, not of a lot.');
    expect(body).not.toContain('When did the lots come');
    await manager.post(`${there}/dismissal`, {});
  });

  test('pasted cells, places in one column, sizes whose unit is asked once', async () => {
    const pasted =
      'name\tplace\tsize\tpieces\treceived\nGoniastrea retiformis\tRack S2 A11\t2.5\t1\t2026-11-20\nFavites pentagona\tRack S9 A1\t3\t1\t2026-11-20\n';
    const there = await brought('pasted.txt', pasted);
    const { body } = await manager.get(there);
    expect(body.match(/In what are sizes/g)).toHaveLength(1);
    expect(body).toContain('Which rack is “Rack S9”?');
    await answerAll(there, { 'size-unit': 'cm', since: 'received', 'rack-Rack~20S9': 'leave' });
    expect((await manager.get(`${there}?show=refused`)).body).toContain('left out, as answered');
    expect((await manager.post(`${there}/acceptance`, {})).status).toBe(303);
    expect(await bench.service.db.lot.findFirstOrThrow({ where: { sizeMm: 25, ownCode: '' } })).toMatchObject(
      {
        ownCode: '',
        pieces: 1,
      },
    );
  });

  test('sizes, counts and prices in words are asked about or read, and go to the note', async () => {
    const words = [
      'code;kind;pieces;size;price;received',
      'W-1;Acropora tenuis;one;small;ask;2026-11-20',
      'W-2;Acropora tenuis;two;Small;12.50;2026-11-20',
      'W-3;Acropora tenuis;1;6-8 polyps;ask;2026-11-20',
      'W-4;Acropora tenuis;3;35 mm;;2026-11-20',
    ].join('\n');
    const there = await brought('words.csv', words);
    const { body } = await manager.get(there);
    expect(body.match(/How large is “small”/gi)).toHaveLength(1);
    expect(body).toContain('How large is “6-8 polyps”?');
    expect(body).toContain('Some prices are no amounts.');
    await answerAll(there, {
      'size-said-small': '20',
      'size-said-6-8~20polyps': 'none',
      'price-said': 'none',
      since: 'now',
    });
    expect((await manager.post(`${there}/acceptance`, {})).status).toBe(303);
    const kept = (await lots()).filter(({ ownCode }) => ownCode.startsWith('W-'));
    expect(kept.map(({ pieces, sizeMm, priceMinor, note }) => [pieces, sizeMm, priceMinor, note])).toEqual([
      [1, 20, null, 'price: ask'],
      [2, 20, 1250, ''],
      [1, null, null, 'size: 6-8 polyps; price: ask'],
      [3, 35, null, ''],
    ]);
  });

  test('what says less than is kept is asked about once: counts, sizes, weeks and months, racks by another word', async () => {
    const loose = [
      'Bestand;;;;;;;;',
      'Nr.;Art;Handelsname;Stück;Regal;Platz;Mutter;Größe;Eingang;Preis',
      'L-1;Acropora tenuis;Blaurand;ca. 12;Regal 2;A5 und A7;;3x2 cm;KW 32;18,-',
      'L-2;Acropora tenuis;Blaurand klein;5-6;Regal 2;A8;Blaurand;2,5 cm;Aug 26;35,–',
      'L-3;Acropora tenuis;Blaurand neu;20+;;;Blaurand;;03/2025;',
      'L-4;Acropora tenuis;Blaurand neu;1;;;Blaurand neu;;Q3 2026;',
      'L-5;Acropora tenuis;;viele;;;;;KW 54;5',
    ].join('\n');
    const there = await brought('loose.csv', loose);
    const { body } = await manager.get(there);
    for (const asked of [
      'Which rack is “Regal 2”?',
      '“ca. 12”: 12',
      '“5-6”: 5',
      '“3x2 cm”',
      '“KW 32”: 3 Aug 2026 to 9 Aug 2026',
      '“Aug 26”: August 2026 or 26 Aug 2026',
      '“03/2025”: 1 Mar 2025 to 31 Mar 2025',
    ])
      expect(body).toContain(asked);
    const answers = {
      'pieces-loose': 'least',
      'size-sides': 'longer',
      since: 'now',
      'received-number': 'year',
    };
    const rack = await bench.service.db.rack.findFirstOrThrow();
    expect(body).toMatch(new RegExp(`value="${rack.id}"[^>]* checked`));
    await answerAll(there, { ...answers, 'received-part': 'middle', 'rack-Regal~202': rack.id });
    const refused = (await manager.get(`${there}?show=refused`)).body;
    expect(refused).toContain('“viele” is not a whole number of pieces');
    expect(refused).toContain('“KW 54” is not a day and time');
    expect((await manager.post(`${there}/acceptance`, {})).status).toBe(303);
    const kept = (await lots()).filter(({ ownCode }) => ownCode.startsWith('L-'));
    const day = (at: Date) => at.toISOString().slice(0, 10);
    expect(
      kept.map(({ pieces, sizeMm, priceMinor, arrivedAt, parent }) => [
        ...[pieces, sizeMm, priceMinor],
        ...[day(arrivedAt), parent?.ownCode ?? null],
      ]),
    ).toEqual([
      [12, 30, 1800, '2026-08-06', null],
      [5, 25, 3500, '2026-08-16', 'L-1'],
      [20, null, null, '2025-03-16', 'L-1'],
      [1, null, null, '2026-08-15', 'L-3'],
    ]);
    await manager.post(`${there}/withdrawal`, { reason: 'tried' });
  });

  test('rows of one lot are joined as answered, and a second sheet beneath is read by its own heads', async () => {
    const sheets = [
      'Code,Coral,Qty,Rack,Slots,Came in,Comments',
      'J-1,Goniastrea retiformis,4,Rack S2,A5,2026-10-01,first',
      ',,3,,A6,,second',
      ',,2,Rack S2,A7,,',
      'Code,Coral,Qty,Rack,Slots,Came in,Comments',
      'J-2,Favites pentagona,1,Rack S2,A8,2026-10-01,',
      'Qty,Coral,Code,Came in',
      '7,Favites pentagona,J-3,2026-10-02',
      'Coral,Qty,Code,Price',
      'Favites pentagona,7,J-4,9.00',
    ].join('\n');
    const there = await brought('sheets.csv', sheets);
    expect((await manager.get(there)).body).toContain('row 3: “3 · A6 · second”');
    await answerAll(there, { 'goes-on': 'more', since: 'now' });
    const refused = (await manager.get(`${there}?show=refused`)).body;
    expect(refused).toContain('The heads of columns again, not a lot.');
    expect(refused).toContain('From row 9 on the columns are others, and “Price” is none of the first ones.');
    expect((await manager.post(`${there}/acceptance`, {})).status).toBe(303);
    const kept = (await lots()).filter(({ ownCode }) => ownCode.startsWith('J-'));
    expect(kept.map(({ ownCode, pieces, note }) => [ownCode, pieces, note])).toEqual([
      ['J-1', 9, 'first, second'],
      ['J-2', 1, ''],
      ['J-3', 7, ''],
    ]);
    const where = { placement: { lotId: kept[0]?.id ?? '' } };
    expect(await bench.service.db.placementSlot.count({ where })).toBe(3);
    await manager.post(`${there}/withdrawal`, { reason: 'tried' });
    const own = await brought('sheets-own.csv', sheets.replaceAll('J-', 'I-'));
    await answerAll(own, { 'goes-on': 'own', since: 'now' });
    expect((await manager.get(own)).body).toContain('5 lots would be taken in');
    await manager.post(`${own}/dismissal`, {});
  });

  test('prices headed with another currency than the farm’s are never taken for its own; inches may be in parts', async () => {
    const file =
      'own code;kind;pieces;size;received;price (USD)\nU-1;Acropora tenuis;1;1 1/2";2026-08-18;24.50\n';
    const there = await brought('usd.csv', file);
    expect((await manager.get(there)).body).toContain('headed USD, and the farm’s currency is EUR');
    expect((await manager.post(`${there}/acceptance`, {})).status).toBe(409);
    await answerAll(there, { 'currency-other': 'none' });
    expect((await manager.post(`${there}/acceptance`, {})).status).toBe(303);
    const lot = await bench.service.db.lot.findFirstOrThrow({ where: { ownCode: 'U-1' } });
    expect(lot).toMatchObject({ sizeMm: 38, priceMinor: null });
    await manager.post(`${there}/withdrawal`, { reason: 'tried' });
  });

  test('a size or price that can be read in two ways, or a text too long to keep, is refused and not guessed', async () => {
    const rows = [
      'name,pieces,size,price,received,note',
      'Goniastrea retiformis,1,"1,350 mm",,2026-11-20,',
      'Goniastrea retiformis,1,,12.505,2026-11-20,',
      `Goniastrea retiformis,1,,,2026-11-20,${'long '.repeat(500)}`,
    ];
    const there = await brought('two-ways.csv', rows.join('\r\n'));
    await answerAll(there, { currency: 'EUR' });
    const { body } = await manager.get(`${there}?show=refused`);
    expect(body).toContain('“1,350 mm” can be read in two ways');
    expect(body).toContain('“12.505” is not a price in EUR, or can be read in two ways');
    expect(body).toContain('2499 characters long; 2000 can be kept');
  });
});
