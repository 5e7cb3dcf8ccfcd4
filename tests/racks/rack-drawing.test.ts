import { describe, expect, test } from 'vitest';
import { cellsOf, slotName } from '../../src/farm/racks/slots.rules.ts';
import { lightTone } from '../../src/racks/drawing/light-tones.rules.ts';
import { drawRack, slotTitle } from '../../src/racks/drawing/rack-drawing.ts';
import { layOutRack } from '../../src/racks/drawing/rack-layout.rules.ts';
import { type RackView, rackViews } from '../../src/racks/drawing/rack-views.ts';
import { fitKindName } from '../../src/racks/drawing/text-fit.rules.ts';
import type { SlotOccupancy, SlotOccupant } from '../../src/stock/places/occupancy.ts';

/** Widths measured in a browser for the page's face at weight 700, in thousandths of the type size; others count as 900. */
const MEASURED: Record<string, number> = {
  ...{ '0': 660, '1': 440, '2': 580, '3': 600, '4': 620, '5': 610, '6': 630, '7': 540, '8': 620, '9': 570 },
  ...{
    a: 550,
    b: 600,
    c: 510,
    d: 600,
    e: 570,
    f: 360,
    g: 590,
    h: 570,
    i: 300,
    j: 260,
    k: 550,
    l: 320,
    m: 880,
  },
  ...{
    n: 570,
    o: 580,
    p: 600,
    q: 600,
    r: 380,
    s: 510,
    t: 380,
    u: 570,
    v: 530,
    w: 740,
    x: 540,
    y: 520,
    z: 510,
  },
  ...{
    A: 680,
    B: 640,
    C: 660,
    D: 690,
    E: 600,
    F: 570,
    G: 720,
    H: 700,
    K: 660,
    L: 550,
    M: 860,
    N: 720,
    P: 630,
  },
  ...{ R: 650, S: 610, T: 610, W: 890, Y: 650, ' ': 310, '-': 370, '.': 270, ',': 270, '…': 780 },
};

interface Box {
  text: string;
  left: number;
  right: number;
  top: number;
  bottom: number;
}

/** The texts of an svg with the room each takes. */
function boxes(svg: string): Box[] {
  const texts =
    /<text class="([^"]*)" x="([^"]+)" y="([^"]+)" font-size="([\d.]+)"( text-anchor="middle")?>([^<]*)</g;
  return [...svg.matchAll(texts)].map(([, className = '', x, y, size, middle, text = '']) => {
    const em = (one: string) => (className.startsWith('light') ? 640 : (MEASURED[one] ?? 900)) / 1000;
    const width = [...text].reduce((sum, one) => sum + em(one), 0) * Number(size);
    const left = Number(x) - (middle === undefined ? 0 : width / 2);
    return {
      text,
      left,
      right: left + width,
      top: Number(y) - 0.78 * Number(size),
      bottom: Number(y) + 0.22 * Number(size),
    };
  });
}

const overlap = (a: Box, b: Box) =>
  a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;

const lot = (code: string, more: Partial<SlotOccupant> = {}): SlotOccupant => ({
  id: code,
  code,
  ownCode: '',
  kind: 'Micromussa lordhowensis',
  pieces: 3,
  alert: null,
  look: null,
  inSlotSince: new Date('2026-09-01T00:00:00Z'),
  onFarmSince: new Date('2026-03-01T00:00:00Z'),
  ...more,
});

function slots(rows: number, columns: number, of: (i: number) => Partial<SlotOccupancy>): SlotOccupancy[] {
  return cellsOf(rows, columns).map((cell, i) => ({
    ...cell,
    id: `slot-${i}`,
    rackId: 'rack',
    name: slotName(cell),
    flow: 'high',
    jet: true,
    base: 'egg_crate',
    light: null,
    lot: null,
    ...of(i),
  }));
}

const at = new Date('2026-09-24T12:00:00Z');
const crowded = slots(12, 20, (i) => ({
  base: 'sand',
  light: { par: 1888.8, error: 100, dli: 65.9, measured: false, estimated: true },
  lot: lot(i % 2 === 0 ? 'WWN-KWR' : 'NRW-WYK', {
    kind: i % 3 === 0 ? 'Wwmmmicromussamm lordhowensis of the long wall' : 'Fleshy large-polyp corals',
    alert: { id: 'a', rule: 'neighbours-in-reach-of-each-other', severity: 'now', title: 'too near' },
    look: { state: 'polyps_shut', grade: 3, at },
  }),
}));

const draw = (all: SlotOccupancy[], rows: number, columns: number, view: RackView = 'light') => {
  const layout = layOutRack(all, {
    rows,
    columns,
    base: 'egg_crate',
    view,
    timeZone: 'UTC',
    now: new Date('2026-11-24T05:30:00Z'),
  });
  return { layout, svg: drawRack(layout, 'Window rack', () => '/stock/X').sheet };
};

describe('the picture of a rack', () => {
  test.each(rackViews)(
    'on 12 x 20 slots full of lots with long names no two texts overlap and none leaves its slot (%s)',
    (view) => {
      const { layout, svg } = draw(crowded, 12, 20, view);
      const all = boxes(svg);
      expect(all.length).toBeGreaterThan(12 * 20 * 2);
      const rows = Map.groupBy(all, (box) => Math.floor((box.bottom - 23) / 104));
      const crossed = [...rows.values()].flatMap((row) =>
        row.flatMap((a, i) =>
          row
            .slice(i + 1)
            .filter((b) => overlap(a, b))
            .map((b) => `"${a.text}" over "${b.text}"`),
        ),
      );
      expect(crossed).toEqual([]);
      const right = (box: Box) =>
        22 + (Math.floor((box.left - 22) / layout.cellWidth) + 1) * layout.cellWidth;
      expect(all.filter((box) => box.left >= 22 && box.right > right(box))).toEqual([]);
      expect(Math.max(...all.map((box) => box.right))).toBeLessThanOrEqual(layout.width);
    },
  );

  test('a code is never shortened, whatever the rack', () => {
    const { svg } = draw(crowded, 12, 20);
    expect(svg.match(/class="code"[^>]*>WWN-KWR</g)).toHaveLength(120);
    expect(svg.match(/class="code"[^>]*>NRW-WYK</g)).toHaveLength(120);
  });

  test('14 columns fit the page of a tablet of 1024 px, 16 that of a desk of 1280 px', () => {
    // What the page leaves beside its margins, the list of areas and a scroll bar of 15 px.
    const [tablet, desk] = [1024 - 48 - 15, 1280 - 168 - 72 - 15];
    const full = (columns: number) =>
      slots(5, columns, () => ({ lot: lot('7YY-467', { kind: 'Platygyra daedalea' }) }));
    expect(draw(full(14), 5, 14).layout.width).toBeLessThanOrEqual(tablet);
    expect(draw(full(16), 5, 16).layout.width).toBeLessThanOrEqual(desk);
  });

  test('names are shortened by width: whole, then the genus, smaller where it must be, then as much of it as fits', () => {
    expect(fitKindName('Favites pentagona', 200)).toEqual({ text: 'Favites pentagona', size: 12 });
    expect(fitKindName('Favites pentagona', 60)).toEqual({ text: 'Favites', size: 12 });
    expect(fitKindName('Micromussa lordhowensis', 60)).toEqual({ text: 'Micromussa', size: 10.5 });
    expect(fitKindName('Micromussa lordhowensis', 50).text).toMatch(/^Microm?u?…$/);
    expect(fitKindName('Mm', 3).text).toBe('');
  });

  test('a slot says everything in full to whoever cannot see it', () => {
    expect(slotTitle(crowded[0] as SlotOccupancy)).toBe(
      'A1: WWN-KWR, Wwmmmicromussamm lordhowensis of the long wall, light 1,889, scaled, flow high, a jet strikes it, neighbours in reach of each other',
    );
    const [free] = slots(1, 1, () => ({ flow: 'still', jet: false }));
    expect(slotTitle(free as SlotOccupancy)).toBe('A1: free, light never measured, flow still');
  });

  test('flow is none to three wave lines, a jet an arrow, urgency a class, scaled light marked', () => {
    const kinds = ['still', 'low', 'medium', 'high'] as const;
    const four = slots(1, 4, (i) => ({ flow: kinds[i] ?? 'still', jet: i === 3 }));
    const { svg } = draw(four, 1, 4);
    expect(svg.match(/class="flow"/g)).toHaveLength(6);
    expect(svg.match(/class="jet"/g)).toHaveLength(1);
    const marked = draw(crowded.slice(0, 1), 1, 1).svg;
    expect(marked).toContain('class="lot now"');
    expect(marked).toContain('class="light estimated"');
    expect(marked).toContain('≈1889');
  });

  test('names from the database cannot break out of the markup', () => {
    const [slot] = slots(1, 1, () => ({ lot: lot('A', { kind: '<b> & "co"' }) }));
    const { svg } = draw([slot as SlotOccupancy], 1, 1);
    expect(svg).not.toContain('<b>');
    expect(svg).toContain('&lt;b&gt; &amp; &quot;co&quot;');
  });

  test('paper grows paler in fixed steps, so that racks compare', () => {
    expect([null, 0, 39, 40, 99, 140, 299, 300, 900].map(lightTone)).toEqual(
      ['none', 0, 0, 1, 2, 4, 5, 6, 6].map((step) => `light-${step}`),
    );
  });
});
