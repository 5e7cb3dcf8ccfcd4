import { readFileSync } from 'node:fs';
import sharp from 'sharp';
import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { careGroups } from '../../seed/library.ts';
import { GrowthForm } from '../../src/generated/prisma/enums.ts';
import { growthFormWords } from '../../src/stock/base/face.ts';
import { placeDrawing } from '../../src/stock/places/place-drawing.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

const drawings = readFileSync(new URL('../../views/assets/growth-forms.svg', import.meta.url), 'utf8');

describe('the face of a lot', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;
  let lot: { id: string; code: string };
  const row = async () => {
    const { body } = await hand.get('/stock');
    return body.slice(body.indexOf('class="lot-name"'), body.indexOf('class="lots-price"'));
  };
  const photo = async (takenAt: string) => {
    const picture = await sharp({ create: { width: 60, height: 40, channels: 3, background: '#845' } })
      .jpeg()
      .toBuffer();
    const id = uuidv7();
    const about = new URLSearchParams({ lotId: lot.id, takenAt });
    await hand.put(`/api/photos/${id}?${about}`, picture, { 'content-type': 'image/jpeg' });
    return id;
  };

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    hand = await bench.as('hand');
    lot = await shelf.lot({
      kindId: await shelf.kind('platygyra-sinensis'),
      slotIds: [shelf.slot('A3'), shelf.slot('A4')],
    });
  });
  afterAll(() => bench.close());

  test('without a photo, the shape of its kind is drawn, or else of its kind’s group', async () => {
    expect(await row()).toContain('/assets/growth-forms.svg#maze');
    const manager = await bench.as('manager');
    const { version, name } = await bench.service.db.kind.findUniqueOrThrow({
      where: { code: 'platygyra-sinensis' },
    });
    const edit = { name, alsoCalled: '', version };
    for (const growthForm of ['x', 'constructor'])
      expect(
        (await manager.post('/kinds/platygyra-sinensis/details', { ...edit, growthForm })).body,
      ).toContain('Choose a growth form of the list.');
    await manager.post('/kinds/platygyra-sinensis/details', { ...edit, growthForm: 'honeycomb' });
    expect(await row()).toContain('/assets/growth-forms.svg#honeycomb');
  });

  test('the newest photo that is not void is shown', async () => {
    const newest = await photo('2026-11-20T08:00:00Z');
    const older = await photo('2026-11-10T08:00:00Z');
    expect(await row()).toContain(`src="/photos/${newest}/small"`);
    await hand.post(`/photos/${newest}/voiding`, { reason: 'another lot' });
    expect(await row()).toContain(`src="/photos/${older}/small"`);
    expect((await hand.get('/stock/ready?part=not')).body).toContain(`src="/photos/${older}/small"`);
  });

  test('its place is drawn in its rack', async () => {
    expect(await row()).toContain('viewBox="0 0 12 2"');
    expect(placeDrawing({ rows: 2, columns: 12, cells: [{ row: 1, column: 3 }] })).toContain(
      'd="M2 0h1v1h-1z"',
    );
  });

  test('a lot on no rack and never looked at says so', async () => {
    const loose = await shelf.lot({ arrivedAt: benchNow });
    const { body } = await hand.get('/stock?only=unplaced');
    expect(body).toContain(loose.code);
    expect(body).toContain('on no rack');
    expect(body).toContain('never looked at');
  });
});

describe('growth forms', () => {
  test.each(Object.values(GrowthForm))('%s has a drawing and a name', (form) => {
    expect(drawings).toContain(`<symbol id="${form}"`);
    expect(growthFormWords[form]).toMatch(/\w/);
  });

  test('every group of the library has one', () => {
    expect(careGroups().filter(({ growthForm }) => growthForm === undefined)).toEqual([]);
  });
});
