import sharp from 'sharp';
import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type Hall, makeHall } from '../rounds/hall.ts';
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
