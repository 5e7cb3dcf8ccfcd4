import { randomUUID } from 'node:crypto';
import { createConnection } from 'node:net';
import { Readable } from 'node:stream';
import sharp from 'sharp';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { type Bench, browse, startBench, type Visitor } from '../support/service.ts';

// Requests as no browser of ours sends them. Each is answered by what is wrong with it, never by 5xx.

let bench: Bench;
let owner: Visitor;
let port: number;
let hall: Hall;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  owner = await bench.as('owner', 'Ines Varga');
  port = Number(new URL(await bench.app.listen({ port: 0, host: '127.0.0.1' })).port);
});

afterAll(() => bench.close());

/** The first line of the answer to a request that is written out. */
const firstLine = (lines: string, host = '\r\nHost: localhost'): Promise<string> =>
  new Promise((resolve, reject) => {
    const socket = createConnection(port, '127.0.0.1', () =>
      socket.write(`${lines}${host}\r\nConnection: close\r\n\r\n`),
    );
    let said = '';
    socket.on('data', (part) => {
      said += part.toString('latin1');
    });
    socket.on('end', () => resolve(said.split('\r\n')[0] ?? ''));
    socket.on('error', reject);
  });

test('a form of more fields than any page sends is refused before anything is done with it', async () => {
  const body = Array.from({ length: 30_000 }, (_, at) => `f${at}=1`).join('&');
  const form = { 'content-type': 'application/x-www-form-urlencoded', accept: 'text/html' };
  const { status, body: said } = await owner.stream(
    '/farm/contacts',
    Readable.from([Buffer.from(body)]),
    form,
  );
  expect(status).toBe(413);
  expect(said).toContain('too many fields');
});

test.each(['/tags', '/stock', '/stock/ready', '/watch', '/rounds/past', '/digest'])(
  'a list is shown from its start where the address asks for a page that cannot be: %s',
  async (list) => {
    for (const page of ['1e308', '-1', 'NaN', '9'.repeat(40), '1&page=2', '', '%00', '0x10', '2.5'])
      expect([page, (await owner.get(`${list}?page=${page}`)).status]).toEqual([page, 200]);
  },
);

test('a request that names the whole address, as one to a proxy does, is answered by its path', async () => {
  // RFC 9112, 3.2.2: a server accepts the absolute form.
  expect(await firstLine('GET http://elsewhere.example/sign-in HTTP/1.1')).toContain(' 200 ');
  expect(await firstLine('GET http://elsewhere.example HTTP/1.1')).toContain(' 303 ');
  expect(await firstLine('GET http://elsewhere.example?a=/b HTTP/1.1')).toContain(' 303 ');
});

test('a request that names two hosts, or none that can be, is refused', async () => {
  // RFC 9112, 3.2: 400 for more than one Host, and for one whose value is no host. One whose address is whole may leave it empty.
  const ask = (host: string) => firstLine(`GET /health/live HTTP/1.1${host}`, '');
  expect(await ask('\r\nHost: farm.example\r\nHost: farm.example')).toContain(' 400 ');
  expect(await ask('\r\nHost: farm.example\r\nhOsT: evil.example')).toContain(' 400 ');
  for (const host of ['a b', 'a/b', '<script>', 'a@b', 'a:b', 'a,b.example', 'a?b', '[::1', 'a:80:80'])
    expect([host, await ask(`\r\nHost: ${host}`)]).toEqual([host, expect.stringContaining(' 400 ')]);
  expect(await ask('')).toContain(' 400 ');
  for (const host of [
    'farm.example',
    '127.0.0.1:8080',
    '[::1]:8080',
    'farm_1.local',
    'xn--bcher-kva.example:',
    '',
  ])
    expect([host, await ask(`\r\nHost: ${host}`)]).toEqual([host, expect.stringContaining(' 200 ')]);
});

test('whoever asks for a very long address is asked to sign in, in a head that proxies take', async () => {
  // Proxies take 4 to 8 KB for the whole head of an answer, as common practice.
  const { status, location = '' } = await browse(bench.app).get(`/stock?q=${'%C3%9F'.repeat(1900)}`);
  expect(status).toBe(303);
  expect(location.length).toBeLessThan(3500);
});

test('a request about the server as a whole is one of a stranger', async () => {
  expect(await firstLine('OPTIONS * HTTP/1.1')).toContain(' 303 ');
});

const withFile = 'Content-Disposition: form-data; name="file"; filename="a.csv"';

test.each([
  ['no boundary', 'multipart/form-data', 'anything'],
  ['an empty boundary', 'multipart/form-data; boundary=', 'anything'],
  ['no part', 'multipart/form-data; boundary=xx', '{}'],
  ['a part that does not end', 'multipart/form-data; boundary=xx', `--xx\r\n${withFile}\r\n\r\n1`],
])('a form with a file that has %s is refused with what to do', async (_, type, body) => {
  for (const url of ['/water/imports', '/stock/A1/photo']) {
    const sent = await owner.send(url, body as unknown as object, { 'content-type': type });
    expect([url, sent.status]).toEqual([url, 400]);
    expect(sent.body).toContain('Choose the file again');
  }
});

test('a time that cannot be is refused, or is that of the service where a device shows it', async () => {
  const hand = await bench.as('hand');
  for (const at of ['0000-01-01', '0000-01-01T00:00:00Z', '-271821-04-20T00:00:00Z', '1899-12-31']) {
    const moved = await hand.post(`/lots/${hall.lots.A1.id}/placements`, { off: 'yes', at });
    expect([at, moved.status]).toEqual([at, 422]);
  }
  const picture = await sharp({ create: { width: 40, height: 40, channels: 3, background: '#a54' } })
    .jpeg()
    .toBuffer();
  const ways = [
    ['0000-01-01T00:00:00Z', '2026-11-24T08:00:00Z'],
    ['2026-11-24T08:00:00Z', '9999-12-31T23:59:59Z'],
  ];
  for (const [takenAt, shown = ''] of ways) {
    const id = randomUUID();
    const url = `/api/photos/${id}?lotId=${hall.lots.A1.id}&takenAt=${takenAt}`;
    const sent = await hand.put(url, picture, { 'content-type': 'image/jpeg', 'device-time': shown });
    expect([takenAt, sent.status]).toEqual([takenAt, 200]);
  }
});

test('an address that no mail server takes is refused by every form that asks for one', async () => {
  // RFC 5321, 4.5.3.1: 64 octets before the @, 254 in all.
  const tooLong = [`${'x'.repeat(65)}@example.org`, `x@${'abcdefghi.'.repeat(26)}example.org`];
  for (const email of [
    ...tooLong,
    'a@b.example\r\nBcc: c@d.example',
    '"a b"@example.org',
    'a@b.example, c@d.example',
  ]) {
    const sent = [
      await owner.post('/people', { name: 'Odd', email, role: 'hand', password: 'a long enough password' }),
      await owner.post('/digest/receivers', { name: 'Odd', email }),
      await owner.post('/farm/contacts', { role: 'electrician', name: 'Odd', number: '555 0100', email }),
    ];
    expect([email, ...sent.map(({ status }) => status)]).toEqual([email, 422, 422, 422]);
  }
});

test('a form of equipment that comes without its fields is drawn again with what is missing', async () => {
  const pump = await bench.service.db.equipment.create({
    data: { systemId: hall.systemId, kind: 'return_pump', name: 'Pump' },
  });
  const sent = await owner.post(`/farm/equipment/${pump.id}`, {});
  expect(sent.status).toBe(422);
  expect(sent.body).toContain('Open the page again.');
});

test.each([
  '//elsewhere.example/',
  '/\\elsewhere.example',
  '/\t/elsewhere.example',
  'https://elsewhere.example',
])('a move never leads back to another house: %s', async (back) => {
  const moved = await owner.post(`/lots/${hall.lots.B1.id}/placements`, { off: 'yes', back });
  expect(moved.status).toBe(303);
  expect(moved.location).toMatch(/^\/stock\//);
});
