import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { readScan } from '../../src/tags/scan/scan.rules.ts';
import { makeShelf, type Shelf } from '../stock/shelf.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

const own = ['https://farm.example.org', 'http://192.168.1.20:8080'];
const id = '0197d3a0-0000-7000-8000-000000000001';

describe('what a code says', () => {
  test.each([
    ['https://farm.example.org/stock/R46-TKR', { what: 'lot', code: 'R46-TKR' }],
    ['http://192.168.1.20:8080/stock/R46-TKR', { what: 'lot', code: 'R46-TKR' }],
    [`https://farm.example.org/racks/${id}`, { what: 'rack', id }],
    [`https://farm.example.org/slots/${id.toUpperCase()}`, { what: 'slot', id }],
    ['https://farm.example.org/t/AbCdEfGhIjKlMnOpQrStUv', { what: 'tag', token: 'AbCdEfGhIjKlMnOpQrStUv' }],
    [
      'https://farm.example.org/stock/paper/typing?ticked=R46-TKR.TK6-WN8',
      { what: 'list', path: '/stock/paper/typing?ticked=R46-TKR.TK6-WN8' },
    ],
    ['  R46 TKR ', { what: 'words', text: 'R46 TKR' }],
  ])('%s', (text, scan) => {
    expect(readScan(text, own)).toEqual(scan);
  });

  test.each([
    'https://elsewhere.example/stock/R46-TKR',
    'https://farm.example.org.elsewhere.example/stock/R46-TKR',
    'https://farm.example.org@elsewhere.example/stock/R46-TKR',
    'http://farm.example.org/stock/R46-TKR',
    'https://farm.example.org/people',
    'https://farm.example.org/stock/R46-TKR/sale',
    'javascript:alert(1)',
    'WIFI:S:house;T:WPA;P:secret;;',
  ])('%s is not followed', (text) => {
    expect(readScan(text, own).what).toBe('elsewhere');
  });
});

describe('the scan page', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;
  const scan = (read: string, more = '') => hand.get(`/scan?read=${encodeURIComponent(read)}${more}`);

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    hand = await bench.as('hand', 'Tomas Reed');
  });
  afterAll(() => bench.close());

  test('opens lots by address, code and own code, racks by name, slots by rack and place', async () => {
    const lot = await shelf.lot({ ownCode: 'BR-014', slotIds: [shelf.slot('A3')] });
    for (const read of [
      `https://farm.example.org/stock/${lot.code}`,
      lot.code.toLowerCase(),
      'br-014',
      'S2 A3',
    ])
      expect((await scan(read)).location).toBe(`/stock/${lot.code}`);
    expect((await scan('rack s2')).location).toBe(`/racks/${shelf.rackId}`);
    expect((await scan('S2, B1')).location).toBe(`/slots/${shelf.slot('B1')}`);
  });

  test('ticks lots, by their slots too, and keeps those that are ticked', async () => {
    const first = await shelf.lot();
    const second = await shelf.lot({ slotIds: [shelf.slot('A5')] });
    const page = await scan(
      `https://farm.example.org/slots/${shelf.slot('A5')}`,
      `&mode=tick&lot=${first.code}`,
    );
    for (const { code } of [first, second]) expect(page.body).toContain(`name="lot" value="${code}" checked`);
    const rack = await scan('Rack S2', `&mode=tick&lot=${first.code}`);
    expect(rack.status).toBe(422);
    expect(rack.body).toContain('Rack S2 is not a lot.');
    expect(rack.body).toContain(`name="lot" value="${first.code}" checked`);
  });

  test('says where racks of one name stand, and takes none of them', async () => {
    const { db } = bench.service;
    const tank = await db.tank.create({
      data: { systemId: shelf.systemId, name: 'Short tank', lengthMm: 900, widthMm: 600, heightMm: 400 },
    });
    const shared = { rows: 1, columns: 2, depthMm: 150 };
    const other = await db.rack.create({ data: { ...shared, tankId: tank.id, name: 'Rack S2' } });
    for (const read of ['S2', 'rack s2', 'S2 A1']) {
      const answer = await scan(read);
      expect(answer.status, read).toBe(409);
      expect(answer.body).toContain('2 racks are called Rack S2: in Long tank and in Short tank.');
    }
    await db.rack.update({ where: { id: other.id }, data: { name: 'S2' } });
    expect((await scan('s2')).location).toBe(`/racks/${other.id}`);
    await db.rack.delete({ where: { id: other.id } });
  });

  test('says what is not here, and opens nothing elsewhere', async () => {
    const elsewhere = await scan('https://elsewhere.example/stock/R46-TKR');
    expect(elsewhere.status).toBe(422);
    expect(elsewhere.body).toContain('is not one of this farm');
    expect((await scan(`https://elsewhere.example/slots/${id}`)).status).toBe(422);
    expect((await scan(`https://farm.example.org/slots/${id}`)).status).toBe(404);
    expect((await scan('no such thing')).body).toContain('Nothing here is called');
    expect((await hand.get('/api/scan?read=no-such')).status).toBe(404);
  });

  test('reads what was printed under an earlier address, but takes no lot of another host', async () => {
    const lot = await shelf.lot({ slotIds: [shelf.slot('B4')] });
    const earlier = 'http://192.168.7.7:8080';
    expect((await scan(`${earlier}/racks/${shelf.rackId}`)).location).toBe(`/racks/${shelf.rackId}`);
    expect((await scan(`${earlier}/slots/${shelf.slot('B4')}`)).location).toBe(`/stock/${lot.code}`);
    expect((await scan(`http://farm.example.org:8080/stock/${lot.code}`)).location).toBe(
      `/stock/${lot.code}`,
    );
    const named = await scan(`${earlier}/stock/${lot.code}`);
    expect(named.status).toBe(422);
    expect(named.body).toContain(`it is ${lot.code}: type that code`);
    expect((await scan(`${earlier}/people`)).body).not.toContain('type that code');
  });

  test('alone may run WebAssembly', async () => {
    const policy = async (url: string) => String((await hand.get(url)).headers['content-security-policy']);
    expect(await policy('/scan')).toContain("script-src 'self' 'wasm-unsafe-eval'");
    expect(await policy('/stock')).not.toContain('wasm');
    expect(await policy('/scan')).toContain("default-src 'self'");
    const program = await hand.get('/assets/zxing_reader.wasm');
    expect(program.headers['content-type']).toBe('application/wasm');
  });
});
