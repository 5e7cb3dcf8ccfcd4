import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';
import { bring } from './files.ts';

let bench: Bench;
let manager: Visitor;
let systemId: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  systemId = await makeSystem(bench);
  await makeSystem(bench, 'North hall');
  manager = await bench.as('manager');
});
afterAll(() => bench.close());

const file = `when,system,Alkalinity (dKH),NO3 (mg/L),note
2026-11-20 07:30,Long run,8.3,6,before the change
2026-11-21 07:30,long run,8.4,<0.2,
2026-11-22 07:30,Long run,,-,
2027-01-05 07:30,Long run,8.2,7,
2026-11-23 07:30,Long run,8.x,7,
`;

async function brought(name: string, content: string | Uint8Array): Promise<string> {
  const { status, location, body } = await bring(manager, name, content);
  expect(status, body).toBe(303);
  return location ?? '';
}

const readings = () =>
  bench.service.db.reading.findMany({ orderBy: [{ at: 'asc' }, { quantityCode: 'asc' }] });

describe('a file of readings', () => {
  let at: string;

  test('is shown as it would be taken, and loads nothing by that', async () => {
    at = await brought('notebook.csv', file);
    const { status, body } = await manager.get(at);
    expect(status).toBe(200);
    expect(body).toContain('5 readings would be taken');
    expect(body).toContain('Nothing is loaded yet');
    expect(await readings()).toHaveLength(0);
  });

  test('names each fault by row and column', async () => {
    const { body } = await manager.get(`${at}?show=refused`);
    expect(body).toMatch(/>5<[\s\S]*whole row[\s\S]*is in the future/);
    expect(body).toMatch(/>6<[\s\S]*Alkalinity \(dKH\)[\s\S]*8\.x/);
  });

  test('is taken whole, once, however often that is asked', async () => {
    const first = await manager.post(`${at}/acceptance`, {});
    expect(first.status, first.body).toBe(303);
    expect((await manager.post(`${at}/acceptance`, {})).status).toBe(303);
    const kept = await readings();
    expect(
      kept.map(({ quantityCode, enteredText, belowDetection }) => [
        quantityCode,
        enteredText,
        belowDetection,
      ]),
    ).toEqual([
      ['alkalinity', '8.3', false],
      ['nitrate', '6', false],
      ['alkalinity', '8.4', false],
      ['nitrate', '<0.2', true],
      ['nitrate', '7', false],
    ]);
    expect(kept[0]).toMatchObject({ systemId, note: 'before the change', accountId: manager.id });
    expect(kept[0]?.importId).toBe(at.split('/').at(-1));
  });

  test('shows its newest five readings and hands the refused rows back with their reasons', async () => {
    const { body } = await manager.get(at);
    expect(body).toContain('Are these the days you expect?');
    const refused = (await manager.get(`${at}/refused.csv`)).body.trim().split('\r\n');
    expect(refused[0]).toBe('when,system,Alkalinity (dKH),NO3 (mg/L),note,why it was not taken');
    expect(refused[1]).toMatch(/^2027-01-05 07:30,Long run,8\.2,7,,.*future/);
    expect(refused[2]).toMatch(/8\.x.*Alkalinity \(dKH\): /);
    expect(refused).toHaveLength(3);
  });

  test('brought again, finds its readings there already', async () => {
    const again = await brought('notebook again.csv', file);
    const { body } = await manager.get(`${again}?show=present`);
    expect(body).toContain('0 readings would be taken');
    expect(body).toContain('is there already');
    const { status } = await manager.post(`${again}/acceptance`, {});
    expect(status).toBe(409);
    expect((await manager.post(`${again}/dismissal`, {})).status).toBe(303);
  });

  test('is taken back as a whole, with the reason, and can then be brought anew', async () => {
    expect((await manager.post(`${at}/withdrawal`, { reason: '' })).status).toBe(422);
    expect((await manager.post(`${at}/withdrawal`, { reason: 'Another tank’s notebook' })).status).toBe(303);
    expect((await readings()).map((reading) => reading.voidReason)).toEqual(
      Array(5).fill('Another tank’s notebook'),
    );
    const anew = await brought('notebook.csv', file);
    expect((await manager.get(anew)).body).toContain('5 readings would be taken');
  });

  test('is for managers', async () => {
    const hand = await bench.as('hand');
    expect((await hand.get('/water/imports')).status).toBe(403);
    expect((await bring(hand, 'a.csv', file)).status).toBe(403);
  });
});

describe('what is asked of a file', () => {
  test('is answered once for all alike, and nothing is taken before', async () => {
    const at = await brought(
      'magnesium.csv',
      'date,system,Mg\n2026-11-01,North hall,"1,350"\n2026-11-08,North hall,"1,340"\n',
    );
    const { body } = await manager.get(at);
    expect(body).toContain('“1,350” of magnesium: 1350 mg/L or 1.35 mg/L?');
    expect(body).toContain('is usual');
    expect((await manager.post(`${at}/acceptance`, {})).status).toBe(409);
    await manager.post(`${at}/reading`, { 'mark-magnesium-~2C': 'thousands' });
    expect((await manager.post(`${at}/acceptance`, {})).status).toBe(303);
    const kept = await bench.service.db.reading.findMany({ where: { quantityCode: 'magnesium' } });
    expect(kept.map((reading) => reading.value).sort()).toEqual([1340, 1350]);
  });

  test('can be told of text that is pasted', async () => {
    const form = new FormData();
    form.set('pasted', 'when\tsystem\tCa\n2026-11-02 08:00\tNorth hall\t415\n');
    const { location } = await manager.send('/water/imports', form, { accept: 'text/html' });
    expect((await manager.get(location ?? '')).body).toContain('1 reading would be taken');
  });

  // Signatures: PKWARE APPNOTE 4.3.7 (ZIP, which OOXML and OpenDocument are), MS-CFB 2.2, ISO 32000-1 7.5.2.
  test.each([
    ['water.xlsx', 'PK\x03\x04', 'This is a workbook. Save the sheet as CSV and bring that.'],
    ['water.ods', 'PK\x03\x04', 'This is a workbook. Save the sheet as CSV and bring that.'],
    ['water.xls', '\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1', 'This is a workbook.'],
    ['water.zip', 'PK\x03\x04', 'This is a ZIP file. Unpack it'],
    ['water.pdf', '%PDF-1.7', 'This is a PDF. Save its table as CSV'],
  ])('%s is not read as text: it is said what to bring instead', async (name, begins, says) => {
    const content = Buffer.concat([Buffer.from(begins, 'latin1'), Buffer.alloc(200, 7)]);
    for (const [door, more] of [
      ['/water/imports', {}],
      ['/stock/imports', {}],
      ['/water/log-files', { kind: 'doses' }],
    ] as const) {
      const answer = await manager.upload(door, { ...more }, { field: 'file', name, content });
      expect(answer.status, door).toBe(422);
      expect(answer.body).toContain(says);
    }
  });

  test('an empty form and a file whose quotes never close say what to do', async () => {
    const form = new FormData();
    form.set('pasted', ' ');
    const empty = await manager.send('/water/imports', form, { accept: 'text/html' });
    expect(empty.status).toBe(422);
    expect(empty.body).toContain('Choose a file with something in it');
    const at = await brought(
      'open.csv',
      'when,system,Ca\n2026-11-02,"North hall,415\n2026-11-03,North hall,410\n',
    );
    expect((await manager.get(at)).body).toContain('never closes');
  });
});
