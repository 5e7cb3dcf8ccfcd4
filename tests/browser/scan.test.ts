import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import bwip from 'bwip-js';
import type { Browser, Page } from 'playwright-core';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makeShelf, type Shelf } from '../stock/shelf.ts';
import {
  expectNoAxeViolations,
  expectNoSideways,
  listen,
  openDevice,
  signIn,
  startBrowser,
} from '../support/browser.ts';
import { type Bench, startBench } from '../support/service.ts';

const [width, height, frames] = [640, 480, 10];

/** A picture of a QR code on a grey table. */
async function pictureOf(text: string): Promise<Buffer> {
  const code = await bwip.toBuffer({
    bcid: 'qrcode',
    text,
    scale: 6,
    padding: 12,
    backgroundcolor: 'ffffff',
  });
  const shown = await sharp(code)
    .resize(300, 300, { fit: 'contain', background: '#fff' })
    .rotate(9, { background: '#888' })
    .toBuffer();
  return sharp({ create: { width, height, channels: 3, background: '#888' } })
    .composite([{ input: shown }])
    .png()
    .toBuffer();
}

/** The same as a film that a camera would give: uncompressed YUV 4:2:0 frames. */
async function filmOf(text: string): Promise<Buffer> {
  const grey = await sharp(await pictureOf(text))
    .greyscale()
    .raw()
    .toBuffer();
  const frame = Buffer.concat([Buffer.from('FRAME\n'), grey, Buffer.alloc((width * height) / 2, 128)]);
  const head = Buffer.from(`YUV4MPEG2 W${width} H${height} F10:1 Ip A1:1 C420jpeg\n`);
  return Buffer.concat([head, ...Array.from({ length: frames }, () => frame)]);
}

describe('scanning on a tablet', () => {
  let bench: Bench;
  let shelf: Shelf;
  let browser: Browser;
  let address: string;
  let folder: string;
  let lot: { id: string; code: string };
  let page: Page;
  const person = { email: 'tomas@example.org', password: 'a long enough password' };
  const refused: string[] = [];

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    lot = await shelf.lot({ slotIds: [shelf.slot('A1')] });
    const { hashPassword } = await import('../../src/people/passwords.ts');
    await bench.service.db.account.create({
      data: {
        name: 'Tomas Reed',
        email: person.email,
        role: 'hand',
        passwordHash: await hashPassword(person.password),
      },
    });
    address = (await listen(bench)).replace('127.0.0.1', 'farm.example.org');
    folder = await mkdtemp(join(tmpdir(), 'scan-'));
    await writeFile(join(folder, 'code.y4m'), await filmOf(`https://farm.example.org/stock/${lot.code}`));
    browser = await startBrowser([
      '--use-fake-ui-for-media-stream',
      '--use-fake-device-for-media-stream',
      `--use-file-for-fake-video-capture=${join(folder, 'code.y4m')}`,
      '--host-resolver-rules=MAP farm.example.org 127.0.0.1',
    ]);
  });
  afterAll(async () => {
    await browser.close();
    await bench.close();
    await rm(folder, { recursive: true });
  });

  const open = async (at: string) => {
    const device = await openDevice(browser, at, { size: 'tablet', touch: true });
    const fresh = await device.newPage();
    fresh.on(
      'console',
      (line) => line.text().includes('Content Security Policy') && refused.push(line.text()),
    );
    await signIn(fresh, person);
    return fresh;
  };

  test('the camera reads a code and opens its lot', async () => {
    page = await open(address.replace('farm.example.org', '127.0.0.1'));
    await page.goto('/scan');
    await expectNoAxeViolations(page);
    await expectNoSideways(page);
    await page.getByRole('button', { name: 'Start the camera' }).tap();
    await page.waitForURL((url) => url.pathname === `/stock/${lot.code}`);
    expect(refused).toEqual([]);
  });

  test('in tick mode it ticks the lot once, and the bar offers what to do', async () => {
    await page.goto('/scan?mode=tick');
    await page.getByRole('button', { name: 'Start the camera' }).tap();
    await page.getByText(`${lot.code} is ticked.`).waitFor();
    await expect.poll(() => page.locator('input[name="lot"]').count()).toBe(1);
    await expect.poll(() => page.locator('[data-tick-words]').textContent()).toBe('1 lot ticked');
    await page.getByRole('button', { name: 'Size' }).tap();
    await page.getByRole('heading', { name: 'Size of 1 lot' }).waitFor();
    await page.getByRole('rowheader', { name: lot.code }).waitFor();
  });

  test('one picture of several lots is kept with each', async () => {
    const other = await shelf.lot();
    await page.goto(`/stock/several/photo?ticked=${lot.code}.${other.code}`);
    await expectNoSideways(page);
    const picture = await pictureOf('a picture');
    await page
      .getByLabel('Photo')
      .setInputFiles({ name: 'rack.png', mimeType: 'image/png', buffer: picture });
    await page.getByRole('button', { name: 'Save the picture with all of them' }).tap();
    await page.getByText('The picture is kept with 2 lots.').waitFor();
    const photos = await bench.service.db.photo.findMany({ omit: { image: true, small: true } });
    expect(photos.map(({ lotId }) => lotId).sort()).toEqual([lot.id, other.id].sort());
    expect(photos[0]?.note).toBe(`One picture of 2 lots: ${lot.code}, ${other.code}`);
  });

  test('over plain HTTP, where no camera may be used, a photo of the code does', async () => {
    const plain = await open(address);
    await plain.goto('/scan');
    expect(await plain.evaluate(() => `${location.origin} ${isSecureContext}`)).toBe(`${address} false`);
    expect(await plain.getByRole('button', { name: 'Start the camera' }).isVisible()).toBe(false);
    await plain.getByText('The live camera works over HTTPS only.').waitFor();
    const photo = (buffer: Buffer) => ({ name: 'code.png', mimeType: 'image/png', buffer });
    const input = plain.locator('[data-scan-photo]');
    await input.setInputFiles(photo(await pictureOf('https://elsewhere.example/stock/R46-TKR')));
    await plain.getByText('is not one of this farm').waitFor();
    await input.setInputFiles(
      photo(
        await sharp({ create: { width, height, channels: 3, background: '#888' } })
          .png()
          .toBuffer(),
      ),
    );
    await plain.getByText('No code was found in the photo.').waitFor();
    await input.setInputFiles(photo(await pictureOf(`${address}/slots/${shelf.slot('A1')}`)));
    await plain.waitForURL((url) => url.pathname === `/stock/${lot.code}`);
    expect(refused).toEqual([]);
  });
});
