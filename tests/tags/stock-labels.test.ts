import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { isPrintable, openPdf, written } from '../../src/platform/pdf.ts';
import { CORNERS, cardOf } from '../../src/science/photograph/card.ts';
import { type Label, labelsPdf } from '../../src/tags/labels/pdf.ts';
import { cardsPdf, placeOf } from '../../src/tags/rack-cards/cards-pdf.ts';
import { filledPage } from '../../src/tags/stock-labels/sheet-choice.rules.ts';
import { labelsOfLots, labelsOfRacks } from '../../src/tags/stock-labels/stock-labels.ts';
import { makeShelf, type Shelf } from '../stock/shelf.ts';
import { freshDatabase } from '../support/database.ts';
import { drawPdf } from '../support/pdf.ts';
import { type Bench, benchNow, benchOn, type Visitor } from '../support/service.ts';

const base = 'http://192.168.1.20:8080';

describe('labels for the stock', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;

  beforeAll(async () => {
    bench = await benchOn(await freshDatabase(), {
      watching: false,
      settings: { PUBLIC_URL: 'http://localhost:8080' },
    });
    shelf = await makeShelf(bench);
    await bench.service.db.site.update({ where: { id: shelf.siteId }, data: { currency: 'EUR' } });
    hand = await bench.as('hand', 'Tomas Reed');
  });
  afterAll(() => bench.close());

  // Read back by a renderer (pdf.js) and a code reader (jsQR) that share nothing with what drew it (pdfkit, bwip-js).
  test('a lot’s label says its own code, name and price, and its code opens the lot', async () => {
    const lot = await shelf.lot({ ownCode: 'BR-014', tradeName: 'Harbour Green', priceMinor: 1850 });
    const plain = await shelf.lot();
    const asked = { what: 'lots', base, price: true } as const;
    const codes = [plain.code, lot.code];
    const labels = await labelsOfLots(bench.service.pool, { siteId: shelf.siteId, codes }, asked, benchNow);
    const sheet = filledPage({ rows: 8, columns: 3, pageWidthMm: null, pageHeightMm: null });
    const [page] = await drawPdf(await labelsPdf({ labels, sheet, first: 2 }), 200);
    expect(page?.texts).toEqual(expect.arrayContaining(['BR-014', plain.code]));
    expect(page?.texts.join(' ')).toMatch(/Harbour\s+Green/);
    expect(page?.texts.join(' ')).toContain('Price: EUR 18.50');
    expect(page?.texts.join(' ')).toContain(`Code: ${lot.code}`);
    const at = (i: number) => ({ xMm: 70 * i, yMm: 0, widthMm: 70, heightMm: 297 / 8 });
    expect(page?.qr(at(0))).toBeNull();
    expect(page?.qr(at(1))).toBe(`${base}/stock/${plain.code}`);
    expect(page?.qr(at(2))).toBe(`${base}/stock/${lot.code}`);
  });

  test('a rack’s corner cards open the rack, name their corner, and are true to the millimetre', async () => {
    const path = `/racks/${shelf.rackId}/cards`;
    expect((await hand.get(`/racks/${shelf.rackId}`)).body).toContain(`href="${path}"`);
    expect((await hand.get(path)).body).toContain('The scale on each card must measure 20 mm');
    const unreached = await hand.get(`${path}.pdf`);
    expect(unreached.status).toBe(422);
    expect(unreached.body).toContain('opens on this machine alone');
    const printed = await hand.get(`${path}.pdf?hereAlone=yes`);
    expect(printed.headers['content-type']).toBe('application/pdf');
    const file = await cardsPdf({
      ...{ rackId: shelf.rackId, name: 'Rack S2', where: 'Tank', base },
      page: { pageWidthMm: 210, pageHeightMm: 297 },
    });
    const [page] = await drawPdf(file, 300);
    expect(page?.texts.join(' ')).toContain('Rack S2, back left');
    // The code fills the frame's inside, 38 mm wide, as the drawing says; a mm more shows no more of it.
    for (const [i, corner] of CORNERS.entries()) {
      const { x, y } = placeOf(i);
      const at = { xMm: x + 4.2, yMm: y + 4.2, widthMm: 37.6, heightMm: 37.6 };
      const said = page?.qr(at) ?? '';
      expect(cardOf(said)).toEqual({ rackId: shelf.rackId, corner });
      expect(said.startsWith('HTTP://192.168.1.20:8080/C/')).toBe(true);
      expect((await hand.get(new URL(said).pathname)).location).toBe(`/racks/${shelf.rackId}`);
      const scanned = await hand.get(`/api/scan?read=${encodeURIComponent(said)}`);
      expect(scanned.body).toContain(`/racks/${shelf.rackId}`);
    }
    expect((await hand.get('/C/0000/1')).status).toBe(404);
  });

  test('a sign fills its page; slots have a label each, and their codes lead to them', async () => {
    const racks = [shelf.rackId];
    const [sign] = await labelsOfRacks(
      bench.service.pool,
      racks,
      { what: 'racks', base, price: false },
      benchNow,
    );
    const page = filledPage({ rows: 1, columns: 1, pageWidthMm: 148, pageHeightMm: 105 });
    const [drawn] = await drawPdf(await labelsPdf({ labels: [sign as Label], sheet: page }), 150);
    expect(drawn?.texts[0]).toBe('Rack S2');
    expect(drawn?.qr()).toBe(`${base}/racks/${shelf.rackId}`);
    const slots = await labelsOfRacks(
      bench.service.pool,
      racks,
      { what: 'slots', base, price: false },
      benchNow,
    );
    expect(slots).toHaveLength(24);
    expect(slots[13]).toMatchObject({ text: { code: 'B2', name: 'Rack S2' } });
    const lot = await shelf.lot({ slotIds: [shelf.slot('B2')] });
    const path = new URL(slots[13]?.address ?? '').pathname;
    expect((await hand.get(path)).location).toBe(`/stock/${lot.code}`);
    const free = new URL(slots[12]?.address ?? '').pathname;
    expect((await hand.get(free)).location).toBe(`/racks/move?slot=${shelf.slot('B1')}`);
    const ofRack = await labelsOfRacks(
      bench.service.pool,
      racks,
      { what: 'rack-lots', base, price: false },
      benchNow,
    );
    expect(ofRack.map(({ text }) => text.code)).toEqual([lot.code]);
  });

  test('the form says where codes lead that open on this machine alone, and prints after a tick', async () => {
    const lot = await shelf.lot();
    const form = await hand.get(`/labels?lot=${lot.code}`);
    expect(form.body).toContain('opens on this machine alone');
    const ask = `/labels.pdf?ticked=${lot.code}&what=lots&rows=4&columns=2&first=1&copies=2`;
    const refused = await hand.get(ask);
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('Tick the box to make it anyway.');
    const printed = await hand.get(`${ask}&hereAlone=yes`);
    expect(printed).toMatchObject({ status: 200, headers: { 'content-type': 'application/pdf' } });
  });

  test('the form names the lots whose letters the typeface of labels lacks, and no others', async () => {
    const plain = await shelf.lot({ ownCode: 'Ž-7', tradeName: 'Señor Grün, 5 µm' });
    const apart = await shelf.lot({ ownCode: 'N-珊瑚', tradeName: 'Зелёный' });
    const page = (await hand.get(`/labels?lot=${plain.code}&lot=${apart.code}`)).body;
    expect(page).toContain('printed as empty boxes: N-珊瑚, Зелёный.');
    expect((await hand.get(`/labels?lot=${plain.code}`)).body).not.toContain('empty boxes');
  });

  // The table of signs (cmap) of the font file, as the library reads it that draws the labels.
  test('what counts as printable is what the typeface has signs for', async () => {
    const { doc } = openPdf({ size: [100, 100], title: 'Signs' });
    for (const face of ['regular', 'bold']) {
      const { _font } = doc.font(face) as unknown as {
        _font: { font: { hasGlyphForCodePoint(code: number): boolean } };
      };
      for (let code = 0x20; code < 0x3100; code++) {
        const sign = String.fromCodePoint(code);
        if (!isPrintable(sign)) continue;
        const [drawn = 0] = [...written(sign)].map((part) => part.codePointAt(0));
        expect(_font.font.hasGlyphForCodePoint(drawn), `U+${code.toString(16)} ${face}`).toBe(true);
      }
    }
  });

  test('labels too small for a code, too many, and none are refused with what to do', async () => {
    const lot = await shelf.lot();
    const ask = async (query: string) => (await hand.get(`/labels.pdf?first=1&hereAlone=yes&${query}`)).body;
    expect(await ask(`ticked=${lot.code}&what=lots&copies=1&rows=40&columns=10`)).toContain(
      'at least 30 x 15 mm',
    );
    expect(await ask('what=lots&copies=1&rows=4&columns=2')).toContain('No lot is ticked.');
    expect(await ask(`what=slots&rack=${shelf.rackId}&copies=100&rows=4&columns=2`)).toContain(
      'That is 2400 labels; at most 1000 are printed at once.',
    );
    expect(await ask(`ticked=${lot.code}&what=lots&copies=1&rows=4`)).toContain(
      'Enter both rows and columns.',
    );
    expect(await ask(`ticked=${lot.code}&what=lots`)).toContain('Choose a sheet, or enter rows and columns.');
    const least = await hand.get(`/labels.pdf?ticked=${lot.code}&what=lots&rows=8&columns=3&hereAlone=yes`);
    expect(least).toMatchObject({ status: 200, headers: { 'content-type': 'application/pdf' } });
  });

  test('paper is measured in inches by whoever measures in them, and kept in mm', async () => {
    const west = await bench.as('manager', 'West Manager');
    await west.post('/account/units', { length: 'in' });
    const form = (await west.get('/tags/sheets')).body;
    expect(form).toContain('value="8.5"');
    const sent = await west.post('/tags/sheets', {
      ...{ name: 'Thirty a page', columns: '3', rows: '10', pageWidthMm: '8.5', pageHeightMm: '11' },
      ...{ widthMm: '2.625', heightMm: '1', leftMm: '0.1875', topMm: '0.5', gapXMm: '0.125', gapYMm: '0' },
      _units: /name="_units" value="([^"]+)"/.exec(form)?.[1] ?? '',
    });
    expect(sent.status, sent.body).toBe(303);
    const sheet = await bench.service.db.labelSheet.findUniqueOrThrow({ where: { name: 'Thirty a page' } });
    expect(sheet).toMatchObject({ pageWidthMm: 215.9, widthMm: 66.675, heightMm: 25.4, topMm: 12.7 });
    expect((await west.get('/tags/sheets')).body).toContain('3 x 10 labels of 2.625 x 1 in on 8.5 x 11 in');
    expect((await bench.as('manager').then((one) => one.get('/tags/sheets'))).body).toContain(
      '3 x 10 labels of 66.7 x 25.4 mm on 215.9 x 279.4 mm',
    );
    const lot = await shelf.lot();
    const ask = `/labels.pdf?ticked=${lot.code}&what=lots&columns=2&first=1&copies=1&hereAlone=yes`;
    expect((await west.get(`${ask}&rows=40`)).body).toContain('at least 1.181 x 0.591 in');
    const one = await west.get(`${ask}&rows=1&pageWidthMm=4&pageHeightMm=6`);
    expect(one.status).toBe(200);
    // A page's box is in points, 72 to the inch (ISO 32000-1, 7.7.3.3).
    expect(one.body).toContain('MediaBox [0 0 288 432]');
  });
});
