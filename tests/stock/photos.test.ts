import sharp from 'sharp';
import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { momentOf } from '../../src/platform/days.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { addLot } from '../../src/stock/lots/lots.ts';
import { layRack } from '../farm/ground.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { photograph, printCards, usualShot } from '../support/photographs/render.ts';
import { makeScene, type Scene } from '../support/photographs/scene.ts';
import { type Bench, browse, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let hall: Hall;
let hand: Visitor;
let picture: Buffer;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  hand = await bench.as('hand', 'Nor Abell');
  // As a phone takes it: larger than is kept, lying on its side, with a place and a camera in its file.
  picture = await sharp({ create: { width: 3000, height: 2000, channels: 3, background: '#845' } })
    .withExif({ IFD0: { Make: 'Nobody' }, IFD3: { GPSLatitude: '52/1 0/1 0/1' } })
    .withMetadata({ orientation: 6 })
    .jpeg()
    .toBuffer();
});
afterAll(() => bench.close());

const put = (id: string, body: Buffer, query: object = {}, type = 'image/jpeg') => {
  const about = new URLSearchParams({ lotId: hall.lots.A1.id, takenAt: '2026-11-24T07:40:00Z', ...query });
  return hand.put(`/api/photos/${id}?${about}`, body, { 'content-type': type });
};

test('a photo is encoded again: upright, of limited size, without metadata', async () => {
  const id = uuidv7();
  expect((await put(id, picture)).json()).toEqual({ id, outcome: 'taken' });
  const { image, small, ...row } = await bench.service.db.photo.findUniqueOrThrow({ where: { id } });
  expect(row).toMatchObject({ width: 1067, height: 1600, takenAt: new Date('2026-11-24T07:40:00Z') });
  const kept = await sharp(image).metadata();
  expect([kept.format, kept.exif, kept.orientation]).toEqual(['jpeg', undefined, undefined]);
  expect((await sharp(small).metadata()).height).toBe(320);
});

test('sent twice, or twice at once, it is one photo', async () => {
  const id = uuidv7();
  const answers = await Promise.all([put(id, picture), put(id, picture)]);
  expect(answers.map((answer) => (answer.json() as { outcome: string }).outcome).toSorted()).toEqual([
    'taken',
    'there',
  ]);
  const other = await put(id, picture, { lotId: hall.lots.B1.id });
  expect(other.status).toBe(409);
});

test('a file that is no picture is refused with a reason', async () => {
  const answer = await put(uuidv7(), Buffer.from('not a picture'));
  expect(answer.status).toBe(422);
  expect(answer.body).toContain('Send a JPEG, PNG or WebP file;');
  expect((await put(uuidv7(), Buffer.alloc(21 * 1024 * 1024))).status).toBe(413);
  expect((await put(uuidv7(), picture, { lotId: uuidv7() })).status).toBe(404);
});

test('it stands in the lot’s record, is kept by whoever has it, and is closed to whoever is signed out', async () => {
  const id = uuidv7();
  await put(id, picture);
  expect((await hand.get(`/stock/${hall.lots.A1.code}`)).body).toContain(`src="/photos/${id}/small"`);
  expect((await hand.get(`/photos/${id}/small`)).headers['cache-control']).toContain('immutable');
  expect((await browse(bench.app).get(`/photos/${id}/image`)).status).toBe(303);
});

test('a photo of the wrong lot is voided with a reason and stays visible', async () => {
  const id = uuidv7();
  await put(id, picture);
  const page = `/photos/${id}`;
  expect((await hand.post(`${page}/voiding`, { reason: '' })).body).toContain('Enter why it is void.');
  await hand.post(`${page}/voiding`, { reason: 'the neighbour' });
  const record = (await hand.get(`/stock/${hall.lots.A1.code}`)).body;
  expect(record).not.toContain(`src="${page}/small"`);
  expect(record).toContain('the neighbour');
  expect((await hand.post(`${page}/voiding`, { reason: 'again' })).status).toBe(409);
});

test('a photo that was just taken is taken back from its notice, without a reason to type', async () => {
  const form = new FormData();
  form.set('photo', new Blob([Uint8Array.from(picture)], { type: 'image/jpeg' }), 'lot.jpg');
  form.set('at', '');
  form.set('note', '');
  const sent = await hand.send(`/stock/${hall.lots.A1.code}/photo`, form, { accept: 'text/html' });
  expect(sent.status, sent.body).toBe(303);
  const { body } = await hand.get(String(sent.location).replace(/#.*/, ''));
  const undo = /action="(\/photos\/([0-9a-f-]+)\/voiding)"/.exec(body);
  expect((await hand.post(String(undo?.[1]), {})).status).toBe(303);
  const photo = await bench.service.db.photo.findUniqueOrThrow({ where: { id: String(undo?.[2]) } });
  expect(photo.voidReason).toBe('Undone right after it was saved');
  expect((await hand.get(`/stock/${hall.lots.A1.code}`)).body).not.toContain(
    `src="/photos/${photo.id}/small"`,
  );
});

describe('one photograph of a rack', () => {
  // Drawn by the tests' own renderer of the cards as printed; what is read is compared with what was drawn.
  const standing = new Date('2026-11-20T10:00:00Z');
  let rackId: string;
  let scene: Scene;
  let lots: { id: string; code: string }[];
  let jpeg: Buffer;

  beforeAll(async () => {
    const shape = { name: 'Pictured rack', rows: 4, columns: 8 };
    const laid = await layRack(bench, { tankId: hall.tankId, lampId: null }, shape);
    rackId = laid.rackId;
    const places = [1, 2, 5, 6].flatMap((column) => [0, 2].map((row) => ({ row, column })));
    scene = makeScene(seededRandom(18), { rackId, rows: 4, columns: 8, base: 'egg_crate', places });
    const { kindId } = await bench.service.db.lot.findUniqueOrThrow({ where: { id: hall.lots.A1.id } });
    lots = [];
    for (const { slots } of scene.corals) {
      const [{ row, column } = { row: 0, column: 0 }] = slots;
      const slotId = String(laid.slots[`${'ABCD'[row]}${column + 1}`]);
      const about = { siteId: hall.siteId, kindId, pieces: 1, arrivedAt: standing, origin: 'Grown here' };
      const more = { permit: '', sizeMm: null, isMother: false, note: '', identification: null };
      lots.push(await bench.change((work) => addLot(work, { ...about, ...more, slotIds: [slotId] })));
    }
    const shot = usualShot(seededRandom(4), { width: 1400, height: 1050, roll: 184, tilt: 6 });
    jpeg = await sharp((await photograph(scene, await printCards(rackId), shot)).jpeg)
      .withExif({ IFD2: { DateTimeOriginal: '2026:11:23 08:15:00' }, IFD3: { GPSLatitude: '52/1 0/1 0/1' } })
      .jpeg({ quality: 92 })
      .toBuffer();
  });

  const send = (rack: string, files: Buffer[], at = '') => {
    const form = new FormData();
    for (const [i, file] of files.entries())
      form.append('photo', new Blob([Uint8Array.from(file)], { type: 'image/jpeg' }), `rack-${i}.jpg`);
    form.set('at', at);
    return hand.send(`/racks/${rack}/photographs`, form, { accept: 'text/html' });
  };
  const kept = () => bench.service.db.rackPhotograph.findMany({ where: { rackId }, include: { lots: true } });

  test('gives every lot that stood on it its picture, whiteness and area, and is taken back as a whole', async () => {
    expect((await hand.get(`/racks/${rackId}`)).body).toContain(`href="/racks/${rackId}/photographs"`);
    const answer = await send(rackId, [jpeg]);
    expect(answer.status, answer.body).toBe(303);
    const [one] = await kept();
    // The camera's clock has no zone: it is the site's, an hour from UTC in none of November in Lisbon.
    const zoned = await bench.service.db.site.findUniqueOrThrow({ where: { id: hall.siteId } });
    expect(one?.takenAt).toEqual(momentOf('2026-11-23', '08:15', zoned.timeZone));
    expect(one?.lots).toHaveLength(lots.length);
    for (const [i, coral] of scene.corals.entries()) {
      const row = one?.lots.find(({ lotId }) => lotId === lots[i]?.id);
      expect(row?.leftOut ?? null).toBeNull();
      // Its shade makes a coral darker than its colour (up to 0.82 of its light: 8 % of L*).
      expect(Math.abs((row?.whiteness ?? 0) - coral.colour[0]), coral.form).toBeLessThan(6);
      expect(Number(row?.areaMm2) / coral.area, coral.form).toBeGreaterThan(0.8);
      expect(Number(row?.areaMm2) / coral.area, coral.form).toBeLessThan(1.4);
      const page = (await hand.get(`/stock/${lots[i]?.code}`)).body;
      expect(page).toContain(`src="/photos/${row?.photoId}/small"`);
      const { image } = await bench.service.db.photo.findUniqueOrThrow({
        where: { id: String(row?.photoId) },
      });
      expect((await sharp(image).metadata()).exif).toBeUndefined();
    }
    const page = (await hand.get(`/rack-photographs/${one?.id}`)).body;
    expect(page).toContain(`${lots.length} lots were measured`);
    const straight = await hand.get(`/rack-photographs/${one?.id}/straight`);
    expect(straight.headers['content-type']).toBe('image/jpeg');
    expect((await hand.get(`/rack-photographs/${one?.id}/original`)).status).toBe(404);

    // The same file again changes nothing.
    expect((await send(rackId, [jpeg])).location).toBe(`/rack-photographs/${one?.id}`);
    expect(await kept()).toHaveLength(1);

    const back = await hand.post(`/rack-photographs/${one?.id}/taking-back`, {});
    expect(back.status).toBe(303);
    expect((await hand.get(`/stock/${lots[0]?.code}`)).body).not.toContain(
      `src="/photos/${one?.lots[0]?.photoId}/small"`,
    );
    expect((await hand.post(`/rack-photographs/${one?.id}/taking-back`, { reason: 'again' })).status).toBe(
      409,
    );
  });

  test('shows lots where they stood when it was taken, and is refused in words where it cannot be read', async () => {
    // Before any lot came: nothing stands there, so nothing is named; the photograph itself is kept.
    const early = await send(rackId, [jpeg], '2026-11-10T10:00');
    expect(early.status).toBe(303);
    const one = (await kept()).find(({ voidedAt }) => voidedAt === null);
    expect(one?.lots).toEqual([]);
    await hand.post(`/rack-photographs/${one?.id}/taking-back`, { reason: 'wrong day' });

    const other = await send(hall.window, [jpeg]);
    expect(other.status).toBe(422);
    expect(other.body).toContain('It shows the cards of another rack');
    expect((await send(rackId, [picture])).body).toContain('No corner card was found in it');
    expect((await send(rackId, [Buffer.from('nothing')])).body).toContain(
      'not a picture the service can read',
    );
    expect((await send(rackId, [])).body).toContain('Choose a photograph.');
    const cut = await sharp(jpeg).extract({ left: 0, top: 0, width: 820, height: 1050 }).jpeg().toBuffer();
    expect((await send(rackId, [cut])).body).toContain('The card was not found at:');
    const soft = await sharp(jpeg).blur(4).jpeg().toBuffer();
    expect((await send(rackId, [soft])).body).toContain('until it is sharp');
    // One that is read beside one that is not: the first is kept, the other said.
    const both = await send(rackId, [jpeg, picture]);
    expect(both.status).toBe(303);
    expect((await hand.get(String(both.location))).body).toContain('Not read: rack-1.jpg: No corner card');
  });

  test('sent by a tablet it is read once, however often it is sent; what came of it is told to whoever takes the next', async () => {
    const id = uuidv7();
    const put = (key: string, body: Buffer, query: object = {}) => {
      const about = new URLSearchParams({ rackId, takenAt: '2026-11-23T09:30:00Z', focal35: '26', ...query });
      return hand.put(`/api/rack-photographs/${key}?${about}`, body, { 'content-type': 'image/jpeg' });
    };
    /** A photograph that takes long is asked for again with the same. */
    const untilRead = async (key: string, body: Buffer) => {
      for (;;) {
        const answer = await put(key, body);
        if ((answer.json() as { outcome?: string }).outcome !== 'being read') return answer;
      }
    };
    const own = await sharp(jpeg).jpeg({ quality: 91 }).toBuffer();
    const answers = await Promise.all([untilRead(id, own), untilRead(id, own)]);
    for (const answer of answers) expect(answer.status, answer.body).toBe(200);
    expect((await put(id, own)).json()).toEqual({ id, outcome: 'there' });
    const one = await bench.service.db.rackPhotograph.findUniqueOrThrow({
      where: { id },
      include: { lots: true },
    });
    expect(one.takenAt).toEqual(new Date('2026-11-23T09:30:00Z'));
    expect(one.lots).toHaveLength(lots.length);
    // The lens is known, and with it how high the camera stood.
    expect(one.cameraMm).toBeGreaterThan(100);
    const page = `/racks/${rackId}/photographs`;
    expect((await hand.get(page)).body).toContain(`${lots.length} lots measured.`);
    expect((await put(id, own, { rackId: hall.window })).status).toBe(409);

    const refused = await untilRead(uuidv7(), picture);
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('No corner card was found in it');
    expect((await hand.get(page)).body).toContain('Not read. No corner card was found in it');
    expect((await put('nonsense', own)).status).toBe(404);
    expect((await put(uuidv7(), own, { rackId: uuidv7() })).status).toBe(404);
    await hand.post(`/rack-photographs/${id}/taking-back`, { reason: 'only tried' });
  });

  test('keeps originals where the site wants them, and lets the oldest go where the room is full', async () => {
    const manager = await bench.as('manager');
    const keeping = `/racks/${rackId}/photographs/keeping`;
    expect((await hand.post(keeping, { keepOriginals: 'yes', mostMb: '50' })).status).toBe(403);
    expect((await manager.post(keeping, { keepOriginals: 'yes', mostMb: '50' })).status).toBe(303);
    const turned = await sharp(jpeg).keepExif().jpeg({ quality: 80 }).toBuffer();
    expect((await send(rackId, [turned])).status).toBe(303);
    const { db } = bench.service;
    const one = await db.rackPhotograph.findFirstOrThrow({ where: { original: { not: null } } });
    const original = await sharp(Buffer.from(one.original ?? [])).metadata();
    expect([original.width, original.exif]).toEqual([1400, undefined]);
    // As if it were larger than all the room there is.
    await db.rackPhotograph.update({ where: { id: one.id }, data: { originalBytes: 60_000_000 } });
    await manager.post(keeping, { mostMb: '50' });
    const then = await db.rackPhotograph.findUniqueOrThrow({
      where: { id: one.id },
      include: { lots: true },
    });
    expect([then.original, then.straight === null]).toEqual([null, false]);
    expect(then.lots.every(({ photoId }) => photoId !== null)).toBe(true);
  });
});

test.each([
  [
    'a drawing',
    Buffer.from('<svg xmlns="http://www.w3.org/2000/svg" width="9000" height="9000"/>'),
    'image/svg+xml',
  ],
  ['a drawing that says it is a photo', Buffer.from('<?xml version="1.0"?><svg width="1"/>'), 'image/jpeg'],
  ['a document', Buffer.from('%PDF-1.4'), 'image/png'],
  ['an animation', Buffer.from('GIF89a'), 'image/gif'],
  ['nothing', Buffer.alloc(0), 'image/png'],
])('%s is refused without being drawn', async (_, bytes, type) => {
  const answer = await put(uuidv7(), bytes, {}, type);
  expect(answer.status).toBe(422);
  expect(answer.body).toContain('not a picture the service can read');
});

test('one picture of several lots is taken back with all of them from its notice', async () => {
  const ticked = `${hall.lots.A2.code}.${hall.lots.B1.code}`;
  const form = { ticked, agreed: ticked, back: '/stock', at: '', note: 'On the bench' };
  const file = { field: 'photo', name: 'bench.jpg', content: picture };
  const sent = await hand.upload('/stock/several/photo', form, file);
  expect(sent.status, sent.body).toBe(303);
  const { body } = await hand.get(sent.location ?? '');
  const [, back = ''] = /action="([^"]*of(?:=|&#x3D;)all)"/.exec(body) ?? [];
  const photos = () =>
    bench.service.db.photo.findMany({
      where: { note: { startsWith: 'On the bench' } },
      select: { voidedAt: true },
    });
  expect((await photos()).map(({ voidedAt }) => voidedAt)).toEqual([null, null]);
  expect((await hand.post(back.replace('&#x3D;', '='), {})).status).toBe(303);
  expect((await photos()).map(({ voidedAt }) => voidedAt !== null)).toEqual([true, true]);
});
