import fc from 'fast-check';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { fitsOnPage, placesOn, type SheetLayout } from '../../src/tags/labels/label-sheets.rules.ts';
import { type Label, labelsPdf } from '../../src/tags/labels/pdf.ts';
import {
  type LabelText,
  POINTS_PER_MM,
  type SetLabel,
  setLabel,
} from '../../src/tags/labels/typesetting.rules.ts';
import { drawPdf } from '../support/pdf.ts';

const a4: SheetLayout = {
  ...{ pageWidthMm: 210, pageHeightMm: 297, widthMm: 70, heightMm: 37 },
  ...{ rows: 8, columns: 3, topMm: 0.5, leftMm: 0, gapXMm: 0, gapYMm: 0 },
};

const single = (widthMm: number, heightMm: number): SheetLayout => ({
  ...{ pageWidthMm: widthMm, pageHeightMm: heightMm, widthMm, heightMm },
  ...{ rows: 1, columns: 1, topMm: 0, leftMm: 0, gapXMm: 0, gapYMm: 0 },
});

const ordinary: LabelText = {
  code: 'R46-TKR',
  name: 'Goniastrea cf. edwardsi',
  standing: 'uncertain, sold as such; named by Ines Varga, 2 March 2026',
  lines: [
    { label: 'Light', text: 'PAR 90, 3.2 mol a day' },
    { label: 'Flow', text: 'medium; no jet on it' },
    { label: 'Fed', text: '8 times in 30 days, pumps off 30 min' },
    { label: 'Water', text: 'Alk 8.2 dKH · Calcium 425 mg/L · Nitrate 8.0 mg/L as NO₃ · Salinity 35.0 PSU' },
  ],
  foot: 'Saltgate Yard · 24 November 2026 · scan for its acclimation',
  pictures: { light: { step: 2, of: 7 }, flow: 2 },
};
const long: LabelText = {
  ...ordinary,
  name: 'Pseudosiderastrea tayamai var. extraordinariissima aff. Homophyllia bowerbankioides subsp. septentrionalis',
  foot: `${'The coral farm at the end of the northern harbour road '.repeat(3)}· 24 November 2026`,
};
const address = (i: number) => `https://farm.example.org/t/AbCdEfGhIjKlMnOpQrSt${String(i).padStart(2, '0')}`;
const labels = (count: number): Label[] =>
  Array.from({ length: count }, (_, i) => ({ text: i % 2 === 0 ? ordinary : long, address: address(i) }));

/** A face whose letters are all half as wide as they are high. */
const measure = (text: string) => text.length * 0.5;

const overlap = (a: { x: number; y: number; width: number; height: number }, b: typeof a) =>
  a.x < b.x + b.width - 0.01 &&
  b.x < a.x + a.width - 0.01 &&
  a.y < b.y + b.height - 0.01 &&
  b.y < a.y + a.height - 0.01;

const boxesOf = ({ qr, texts, light, flow, mark }: SetLabel) => [
  { x: qr.x, y: qr.y, width: qr.side, height: qr.side },
  ...[light, flow, mark].filter((box) => box !== null),
  ...texts,
];

describe('a label', () => {
  const text = fc.string({ minLength: 1, maxLength: 120 });
  const pictures = fc.constant(ordinary.pictures ?? { light: null, flow: null });
  const anyLabel = fc.record({
    pictures,
    code: fc.constant('R46-TKR'),
    name: text,
    standing: fc.string({ maxLength: 120 }),
    lines: fc.array(fc.record({ label: fc.constant('Water'), text }), { maxLength: 6 }),
    foot: text,
    hasMark: fc.boolean(),
    isSign: fc.boolean(),
  });

  test('of any words and size has nothing that overlaps or stands outside', () => {
    fc.assert(
      fc.property(
        anyLabel,
        fc.double({ min: 36, max: 120, noNaN: true }),
        fc.double({ min: 15, max: 80, noNaN: true }),
        (words, widthMm, heightMm) => {
          const boxes = boxesOf(setLabel(words, widthMm, heightMm, measure));
          expect(boxes.length).toBeGreaterThan(1);
          for (const [i, box] of boxes.entries()) {
            expect(box.x).toBeGreaterThanOrEqual(0);
            expect(box.y).toBeGreaterThanOrEqual(0);
            expect(box.x + box.width).toBeLessThanOrEqual(widthMm * POINTS_PER_MM);
            expect(box.y + box.height).toBeLessThanOrEqual(heightMm * POINTS_PER_MM);
            for (const other of boxes.slice(i + 1)) expect(overlap(box, other)).toBe(false);
          }
        },
      ),
      { numRuns: 200 },
    );
  });

  test('always shows the code and the name; what has no room is left out from the end and said', () => {
    const set = setLabel(long, 40, 15, measure);
    expect(set.texts[0]?.text).toMatch(/^Pseudosiderastrea/);
    expect(set.texts.map(({ text }) => text)).toContain('R46-TKR');
    expect(set.leftOut.at(-1)).toBe('the foot');
    expect(setLabel(ordinary, 100, 70, measure).leftOut).toEqual([]);
  });

  test('has its name larger than its code, and its code larger than the lines of the record', () => {
    const { texts } = setLabel(ordinary, 100, 70, measure);
    const code = texts.findIndex(({ text }) => text === ordinary.code);
    expect(code).toBeGreaterThan(0);
    const sizes = texts.map(({ size }) => size);
    expect(sizes[0]).toBeGreaterThan(sizes[code] ?? 0);
    expect(sizes[code]).toBeGreaterThan(sizes[code + 1] ?? 99);
  });

  test('has pictures of light and flow beneath its code where there is room, none of what is not known, and the price', () => {
    const { light, flow, texts } = setLabel({ ...ordinary, price: '€38.00' }, 70, 37, measure);
    expect(light?.width).toBeGreaterThan(5);
    expect(flow?.x).toBeGreaterThan((light?.x ?? 0) + (light?.width ?? 0));
    expect(texts.map(({ text }) => text)).toContain('€38.00');
    const unknown = setLabel({ ...ordinary, pictures: { light: null, flow: null } }, 70, 37, measure);
    expect([unknown.light, unknown.flow]).toEqual([null, null]);
    expect(setLabel(ordinary, 60, 15, measure).light).toBeNull();
  });

  test('on a lot or a rack has the farm’s mark beneath its code, and none where the code would get small', () => {
    const sign = { code: 'R46-TKR', name: 'Harbour Green', standing: '', lines: [], foot: '', isSign: true };
    const { mark, qr } = setLabel({ ...sign, hasMark: true }, 70, 37, measure);
    expect(mark?.y).toBeGreaterThan(qr.y + qr.side);
    expect(qr.side).toBeGreaterThan(25 * POINTS_PER_MM);
    expect(setLabel({ ...sign, hasMark: true }, 48, 21, measure).mark).toBeNull();
    expect(setLabel(sign, 70, 37, measure).mark).toBeNull();
  });

  test('too small for a QR code is refused', () => {
    expect(() => setLabel(ordinary, 25, 10, measure)).toThrow('no room for a QR code');
  });
});

describe('a sheet', () => {
  test('places labels row by row, from the place that is free, page after page', () => {
    const places = placesOn(a4, 5, 23);
    expect(places.map(({ page, xMm, yMm }) => [page, xMm, yMm])).toEqual([
      [0, 70, 259.5],
      [0, 140, 259.5],
      [1, 0, 0.5],
      [1, 70, 0.5],
      [1, 140, 0.5],
    ]);
  });

  test('whose labels do not lie within its page is noticed', () => {
    expect(fitsOnPage(a4)).toBe(true);
    expect(fitsOnPage({ ...a4, gapXMm: 1 })).toBe(false);
    expect(fitsOnPage({ ...a4, rows: 9 })).toBe(false);
  });
});

// Read back by a renderer (pdf.js) and a code reader (jsQR) that share nothing with what drew it (pdfkit, bwip-js).
describe('the printed PDF', () => {
  test('has its sheet’s size, every label’s words, and QR codes that lead to their own tags', async () => {
    const [page, ...others] = await drawPdf(await labelsPdf({ labels: labels(4), sheet: a4 }), 200);
    expect(others).toEqual([]);
    expect(page?.widthMm).toBeCloseTo(210, 1);
    expect(page?.heightMm).toBeCloseTo(297, 1);
    expect(page?.texts.filter((text) => text === 'R46-TKR')).toHaveLength(4);
    expect(page?.texts.join(' ')).toContain('Light: PAR 90, 3.2 mol a day');
    // The face has no lowered figures; what it lacks would be an empty box.
    expect(page?.texts.join(' ')).toMatch(/mg\/L as\s+NO3/);
    const places = placesOn(a4, 4);
    expect(places).toHaveLength(4);
    for (const [i, place] of places.entries()) {
      expect(page?.qr({ ...place, widthMm: 70, heightMm: 37 })).toBe(address(i));
    }
  });

  test('has the farm’s own mark once, however many labels show it', async () => {
    const square = { width: 200, height: 200, channels: 3, background: '#000' } as const;
    const mark = await sharp({ create: square }).png().toBuffer();
    const file = await labelsPdf({ labels: labels(4), sheet: a4, mark });
    expect(file.toString('latin1').match(/\/Subtype \/Image/g)).toHaveLength(1);
    const [page] = await drawPdf(file, 200);
    expect(page?.qr({ ...placesOn(a4, 1)[0], ...{ xMm: 0, yMm: 0.5, widthMm: 70, heightMm: 37 } })).toBe(
      address(0),
    );
  });

  test('begins at the place that is free', async () => {
    const [page] = await drawPdf(await labelsPdf({ labels: labels(1), sheet: a4, first: 24 }), 200);
    expect(page?.qr({ xMm: 140, yMm: 259.5, widthMm: 70, heightMm: 37 })).toBe(address(0));
    expect(page?.qr({ xMm: 0, yMm: 0.5, widthMm: 70, heightMm: 37 })).toBeNull();
  });

  test('of one label on a roll can be read at the smallest size, with the longest names', async () => {
    const [page] = await drawPdf(
      await labelsPdf({ labels: [{ text: long, address: address(7) }], sheet: single(36, 15) }),
      300,
    );
    expect(page?.widthMm).toBeCloseTo(36, 1);
    expect(page?.qr()).toBe(address(7));
  });
});
