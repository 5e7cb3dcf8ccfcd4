import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Hall, makeHall } from '../../rounds/hall.ts';
import { type Bench, startBench, type Visitor } from '../../support/service.ts';

let bench: Bench;
let hall: Hall;
let hand: Visitor;
let manager: Visitor;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  hand = await bench.as('hand', 'Odo Brandt');
  manager = await bench.as('manager', 'Lena Roth');
});

afterAll(() => bench.close());

const pdf = Buffer.from('%PDF-1.4\n1 0 obj<</Type/Catalog>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF\n');

/** Sends a file by the form of a record. */
const attach = (path: string, content: Buffer, name: string, what = 'Import permit') =>
  manager.upload(path, { what }, { field: 'file', name, content });

const kept = () => bench.service.db.attachedFile.findFirstOrThrow({ orderBy: { id: 'desc' } });

describe('a file', () => {
  test.each(['lot', 'system', 'equipment'] as const)(
    'is kept with a %s, shown there, and saved byte by byte',
    async (noun) => {
      const device = await bench.service.db.equipment.create({
        data: { systemId: hall.systemId, kind: 'heater', name: 'Heater' },
      });
      const id = { lot: hall.lots.A1.id, system: hall.systemId, equipment: device.id }[noun];
      const sent = await attach(`/files/${noun}/${id}`, pdf, 'permit A ñ.pdf');
      expect(sent.status, sent.body).toBe(303);
      const { body } = await hand.get(`/files/${noun}/${id}`);
      expect(body).toContain('Import permit');
      expect(body).toContain('permit A ñ.pdf');
      const file = await kept();
      const saved = await hand.get(`/files/${file.id}`);
      expect(saved.body).toBe(pdf.toString());
      expect(saved.headers).toMatchObject({
        'content-type': 'application/pdf',
        'x-content-type-options': 'nosniff',
        'content-security-policy': "sandbox; default-src 'none'",
        'content-disposition': `attachment; filename*=UTF-8''permit%20A%20%C3%B1.pdf`,
      });
    },
  );

  test('that is a picture is encoded again, without what its file says of the place', async () => {
    const picture = await sharp({ create: { width: 60, height: 40, channels: 3, background: '#a54' } })
      .withExif({ IFD0: { Copyright: 'Zzyx harbour' } })
      .png()
      .toBuffer();
    await attach(`/files/lot/${hall.lots.A1.id}`, picture, 'invoice.png', 'Invoice');
    const { kind, name, content } = await kept();
    expect([kind, name]).toEqual(['image/jpeg', 'invoice.jpg']);
    expect(Buffer.from(content ?? []).toString('latin1')).not.toContain('Zzyx harbour');
    expect((await sharp(Buffer.from(content ?? [])).metadata()).format).toBe('jpeg');
  });

  test.each([
    ['page.pdf', Buffer.from('<html><script>alert(1)</script>'), 422, 'Choose a PDF, a JPEG or a PNG file'],
    ['drawing.svg', Buffer.from('<svg xmlns="http://www.w3.org/2000/svg"/>'), 422, 'Choose a PDF'],
    ['empty.pdf', Buffer.alloc(0), 422, 'Choose a file.'],
    ['large.pdf', Buffer.concat([pdf, Buffer.alloc(11 * 1024 * 1024)]), 413, 'too large'],
  ])('%s is refused in words', async (name, content, status, words) => {
    const sent = await attach(`/files/lot/${hall.lots.A1.id}`, content, name, 'Typed before');
    expect(sent.status).toBe(status);
    expect(sent.body).toContain(words);
    expect(sent.body).toContain('value="Typed before"');
  });

  test('sent twice by the same form is kept once', async () => {
    const path = `/files/lot/${hall.lots.A2.id}`;
    const key = '01a20000-0000-7000-8000-000000000001';
    for (let times = 0; times < 2; times++)
      await manager.upload(
        path,
        { what: 'Certificate', _key: key },
        { field: 'file', name: 'c.pdf', content: pdf },
      );
    expect(await bench.service.db.attachedFile.count({ where: { lotId: hall.lots.A2.id } })).toBe(1);
  });

  test('is removed with a reason: its content goes, its name stays', async () => {
    await attach(`/files/lot/${hall.lots.B1.id}`, pdf, 'wrong.pdf');
    const { id } = await kept();
    expect((await manager.post(`/files/${id}/removal`, { reason: '' })).status).toBe(422);
    expect((await manager.post(`/files/${id}/removal`, { reason: 'Of another lot' })).status).toBe(303);
    expect((await manager.get(`/files/${id}`)).status).toBe(404);
    expect((await manager.get(`/files/lot/${hall.lots.B1.id}`)).body).toContain('Of another lot');
    expect((await kept()).content).toBeNull();
    expect((await manager.post(`/files/${id}/removal`, { reason: 'Again' })).status).toBe(409);
  });
});
