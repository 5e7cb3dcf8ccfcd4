import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench } from '../support/service.ts';

// Members of a manifest, and which a browser asks for before it offers to install: W3C Web Application Manifest.

let bench: Bench;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await bench.service.db.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
});
afterAll(() => bench.close());

interface Manifest {
  name: string;
  start_url: string;
  scope: string;
  display: string;
  icons: { src: string; sizes: string; type: string; purpose?: string }[];
}

async function manifest(): Promise<Manifest> {
  const page = await (await bench.as('hand')).get('/rounds');
  const [, href = ''] = /<link rel="manifest" href="([^"]+)">/.exec(page.body) ?? [];
  const answer = await bench.app.inject(href);
  expect(answer.statusCode, href).toBe(200);
  expect(answer.headers['content-type']).toContain('application/manifest+json');
  return answer.json<Manifest>();
}

describe('on the home screen of a tablet', () => {
  test('the service starts at the round, without the bars of a browser', async () => {
    const read = await manifest();
    expect(read).toMatchObject({
      name: 'Evenwater',
      start_url: '/rounds',
      scope: '/',
      display: 'standalone',
    });
    const hand = await bench.as('hand');
    expect((await hand.get(read.start_url)).status).toBe(200);
  });

  test('its icons are PNG files of the size the manifest says, sent without a session', async () => {
    const { icons } = await manifest();
    expect(icons.map(({ sizes }) => sizes)).toEqual(expect.arrayContaining(['192x192', '512x512']));
    for (const { src, sizes, type } of icons) {
      const answer = await bench.app.inject(src);
      expect(answer.headers['content-type'], src).toBe(type);
      expect(answer.headers['set-cookie']).toBeUndefined();
      const { width, height, format } = await sharp(answer.rawPayload).metadata();
      expect([format, `${width}x${height}`], src).toEqual(['png', sizes]);
    }
  });

  test('an icon that is cut to a circle keeps its whole mark', async () => {
    const { icons } = await manifest();
    const cut = icons.find(({ purpose }) => purpose === 'maskable');
    const answer = await bench.app.inject(cut?.src ?? '');
    const { data, info } = await sharp(answer.rawPayload)
      .greyscale()
      .raw()
      .toBuffer({ resolveWithObject: true });
    const middle = info.width / 2;
    const far = [...data].flatMap((grey, i) => {
      const [x, y] = [i % info.width, Math.floor(i / info.width)];
      return grey < 128 ? [Math.hypot(x - middle, y - middle)] : [];
    });
    expect(far.length).toBeGreaterThan(100);
    expect(Math.max(...far)).toBeLessThan(0.4 * info.width);
  });
});
