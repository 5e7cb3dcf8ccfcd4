import { describe, expect, test } from 'vitest';
import { dayTicks } from '../../../src/platform/charts/days.ts';
import { sparkline } from '../../../src/platform/charts/sparkline.ts';
import { type ChartPoint, timeChart } from '../../../src/platform/charts/time-chart.ts';
import { csvText } from '../../../src/platform/csv.ts';

const from = new Date('2026-10-01T00:00Z');
const to = new Date('2026-10-31T00:00Z');
const on = (day: number) => new Date(Date.UTC(2026, 9, day));
const point = (day: number, value: number, kind: ChartPoint['kind'] = 'plain'): ChartPoint => ({
  at: on(day),
  value,
  error: 0.5,
  kind,
});
const count = (svg: string, part: string) => svg.split(part).length - 1;

describe('a chart over time', () => {
  const chart = {
    label: 'Nitrate rose from 5 to 9',
    from,
    to,
    timeZone: 'UTC',
    points: [point(5, 5), point(20, 9, 'unconfirmed'), point(22, 6, 'refuted'), point(25, 1, 'below')],
  };

  test('says in one sentence what it shows, safely', () => {
    const svg = timeChart({ ...chart, label: 'Nitrate in "A" < B & C' });
    expect(svg).toContain('role="img" aria-label="Nitrate in &quot;A&quot; &lt; B &amp; C"');
  });

  test('cuts the name of a lane where the words at its right would be written over it', () => {
    const name = 'Sodium carbonate solution, 1 meq/mL, mL a day';
    const lane = {
      name,
      bars: [{ at: on(5), value: 600 }],
      usual: { value: 786, text: '786 in the routine' },
    };
    const nameIn = (width: number) =>
      /class="label" x="\d+" y="[\d.]+">([^<]*)</.exec(timeChart({ ...chart, width, lanes: [lane] }))?.[1];
    expect(nameIn(760)).toBe(name);
    expect(nameIn(358)).toMatch(/^Sodium carbonate.*…$/);
  });

  test('draws full, hollow, pale and below-detection points apart, with bars where there is an uncertainty', () => {
    const svg = timeChart(chart);
    expect(count(svg, 'class="point"')).toBe(1);
    expect(count(svg, 'class="point unconfirmed"')).toBe(1);
    expect(count(svg, 'class="point voided"')).toBe(1);
    expect(count(svg, 'class="point below"')).toBe(1);
    expect(count(svg, 'class="bar"')).toBe(2);
  });

  test('hatches the kept band and draws a limit only where it does not press the readings flat', () => {
    const banded = { ...chart, band: { low: 2, high: 10 } };
    expect(timeChart({ ...banded, limit: { value: 30, text: 'limit 30' } })).toContain('limit 30');
    expect(timeChart({ ...banded, limit: { value: 300, text: 'limit 300' } })).not.toContain('limit 300');
    expect(timeChart(banded)).toContain('fill="url(#hatch-960)"');
    expect(timeChart({ ...banded, width: 360 })).toContain('url(#hatch-360)');
    expect(timeChart({ ...chart, band: { low: null, high: null } })).not.toContain('fill="url');
  });

  test('makes one tick of what falls on one pixel, and leaves out what lies outside', () => {
    const events = [on(3), on(3), on(9), new Date('2026-12-01')].map((at) => ({ at, kind: 'tall' as const }));
    expect(count(timeChart({ ...chart, events }), '<line class="event"')).toBe(2);
  });

  test('names a marker only where there is room for its name', () => {
    const markers = [3, 4, 20].map((day) => ({ at: on(day), text: `kit of day ${day} opened` }));
    const svg = timeChart({ ...chart, markers });
    expect(count(svg, 'class="now-line"')).toBe(3);
    expect(svg).toContain('kit of day 3 opened');
    expect(svg).not.toContain('kit of day 4 opened');
  });

  test('can be empty', () => {
    expect(timeChart({ ...chart, points: [] })).not.toContain('NaN');
    expect(timeChart({ ...chart, points: [{ ...point(5, 5), error: 0 }] })).not.toContain('NaN');
  });
});

describe('the days beneath', () => {
  test('over a few days hours of the farm’s clock are named between the days', () => {
    const ticks = (start: string, end: string, most = 8) =>
      dayTicks(new Date(start), new Date(end), 'Europe/Lisbon', most).map(({ text }) => text);
    expect(ticks('2026-10-20T10:00Z', '2026-10-21T16:00Z')).toEqual([
      '12:00',
      '18:00',
      '21 Oct',
      '06:00',
      '12:00',
    ]);
    expect(ticks('2026-10-20T10:00Z', '2026-10-23T16:00Z', 4)).toEqual(['21 Oct', '22 Oct', '23 Oct']);
    // The night when clocks go back has 25 hours; noon stays noon.
    const night = dayTicks(new Date('2026-10-24T12:00Z'), new Date('2026-10-25T18:00Z'), 'Europe/Lisbon', 8);
    expect(night.find(({ at }) => at > new Date('2026-10-25T06:30Z'))).toEqual({
      at: new Date('2026-10-25T12:00Z'),
      text: '12:00',
    });
  });

  test('are midnights of the farm, also across a change of the clock', () => {
    const ticks = dayTicks(new Date('2026-10-20T00:00Z'), new Date('2026-10-29T12:00Z'), 'Europe/Lisbon', 10);
    expect(ticks.at(-1)).toEqual({ at: new Date('2026-10-29T00:00Z'), text: '29 Oct' });
    expect(ticks.find((tick) => tick.text === '24 Oct')?.at).toEqual(new Date('2026-10-23T23:00Z'));
  });

  test('name the year only where it changes', () => {
    const texts = (from: string, to: string, most: number) =>
      dayTicks(new Date(from), new Date(to), 'UTC', most).map(({ text }) => text);
    expect(texts('2026-10-11T00:00Z', '2027-02-23T00:00Z', 5)).toEqual([
      '26 Oct',
      '25 Nov',
      '25 Dec',
      '24 Jan 2027',
      '23 Feb',
    ]);
    expect(texts('2024-10-11T00:00Z', '2026-11-25T00:00Z', 5)).toEqual([
      '27 Nov 2024',
      '28 May 2025',
      '26 Nov',
      '27 May 2026',
      '25 Nov',
    ]);
  });

  test('are never more than asked for', () => {
    for (let days = 1; days < 4000; days++) {
      const ticks = dayTicks(new Date(to.getTime() - days * 86_400_000), to, 'UTC', 6);
      expect(ticks.length, `${days} days`).toBeLessThanOrEqual(6);
      expect(ticks.length, `${days} days`).toBeGreaterThanOrEqual(days < 2 ? 1 : 2);
    }
  });
});

describe('a small line of history', () => {
  const points = [1, 10, 20].map((day) => ({ at: on(day), value: day }));

  test('draws the line over its band and marks the last point, hollow when it waits', () => {
    const svg = sparkline({ points, from, to, band: { low: 5, high: 15 } });
    expect(svg).toMatch(/^<svg class="chart spark"/);
    expect(svg).toContain('class="band"');
    expect(svg).toContain('aria-hidden="true"');
    expect(sparkline({ points: [...points, { at: on(25), value: 3, open: true }], from, to })).toContain(
      'class="point unconfirmed"',
    );
  });

  test('is said aloud when it has a label, and bears no points or level ones', () => {
    expect(sparkline({ points, from, to, label: 'rose <fast>' })).toContain(
      'role="img" aria-label="rose &lt;fast&gt;"',
    );
    expect(sparkline({ points: [], from, to })).not.toContain('NaN');
    expect(sparkline({ points: points.map((one) => ({ ...one, value: 4 })), from, to })).not.toContain('NaN');
  });
});

describe('a file of rows', () => {
  test('quotes what RFC 4180 (2005), section 2, wants quoted, and ends every row with CRLF', () => {
    expect(
      csvText([
        ['a', 1, null],
        ['b,c', 'd"e', 'f\ng'],
      ]),
    ).toBe('a,1,\r\n"b,c","d""e","f\ng"\r\n');
  });
});
