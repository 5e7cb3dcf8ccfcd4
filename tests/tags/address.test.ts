import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { reachOf } from '../../src/platform/web/public-address.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { freshDatabase } from '../support/database.ts';
import { type Bench, benchOn, type Visitor } from '../support/service.ts';

let bench: Bench;
let hall: Hall;
let manager: Visitor;
let tag: string;
beforeAll(async () => {
  bench = await benchOn(await freshDatabase(), { watching: false, settings: { PUBLIC_URL: undefined } });
  hall = await makeHall(bench);
  manager = await bench.as('manager');
  const answer = await manager.post('/tags', {
    lot: hall.lots.A1.code,
    pieces: 1,
    reason: '',
    hereAlone: 'yes',
  });
  expect(answer.status, answer.body).toBe(303);
  tag = String(answer.location);
});
afterAll(() => bench.close());

const html = { accept: 'text/html' };

test('without a setting, a tag leads to the name this machine was asked for by', async () => {
  const { body } = await manager.get(tag, { ...html, host: 'localhost:8080' });
  expect(body).toContain('http://localhost:8080/t/');
  expect(body).toContain('QR code of the public page');
});

test.each(['evil.example', 'evil.example:80', 'localhost.evil.example', '[::bad]'])(
  'a host that is made up (%s) gets on no tag, no code, no label and no redirection',
  async (host) => {
    const answer = await manager.get(tag, { ...html, host });
    expect(answer.status).toBe(200);
    expect(answer.body).not.toContain(host);
    expect(answer.body).not.toContain('QR code of the public page');
    expect(answer.body).toContain('Start the service with PUBLIC_URL');
    const forwarded = await manager.get(tag, { ...html, host: 'localhost:8080', 'x-forwarded-host': host });
    expect(forwarded.body).toContain('http://localhost:8080/t/');
    const sheet = await bench.service.db.labelSheet.findFirst();
    const query = `tag=${tag.replace('/tags/', '')}&sheet=${sheet?.id ?? ''}&first=1`;
    expect((await manager.get(`/tags/labels.pdf?${query}`, { ...html, host })).status).not.toBe(200);
    const asked = await bench.app.inject({ url: '/farm', headers: { ...html, host } });
    expect(String(asked.headers.location)).toMatch(/^\/sign-in/);
  },
);

describe('a code that would open on this machine alone', () => {
  const fields = () => ({ lot: hall.lots.A1.code, pieces: 1, reason: '' });
  const here = { ...html, host: 'localhost:8080' };

  test('is said before the tag is issued, and has to be confirmed', async () => {
    const { body } = await manager.get(`/tags/new?lot=${hall.lots.A1.code}`, here);
    expect(body).toContain('opens on this machine alone');
    const before = await bench.service.db.tag.count();
    const refused = await manager.post('/tags', fields());
    expect(refused.status).toBe(422);
    expect(refused.body).toMatch(/opens on this machine alone.*Tick the box/s);
    expect(await bench.service.db.tag.count()).toBe(before);
    expect((await manager.post('/tags', { ...fields(), hereAlone: 'yes' })).status).toBe(303);
  });

  test('is printed on no label until that is confirmed', async () => {
    const sheet = await bench.service.db.labelSheet.findFirstOrThrow();
    const asked = { tag: [tag.replace('/tags/', '')], sheet: sheet.id, first: 1 };
    const refused = await manager.post('/tags/labels', asked);
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('Tick the box');
    const query = `tag=${asked.tag[0]}&sheet=${sheet.id}&first=1`;
    expect((await manager.get(`/tags/labels.pdf?${query}`, here)).status).toBe(422);
    expect((await manager.get(`/tags/labels.pdf?${query}&hereAlone=yes`, here)).status).toBe(200);
  });
});

// RFC 1918, RFC 4193, RFC 4291, RFC 6598 (private and loopback addresses), RFC 6762 (.local), RFC 6761 (localhost)
test.each([
  ['http://localhost:8080', 'this machine'],
  ['http://127.0.0.1', 'this machine'],
  ['http://127.8.9.1:80', 'this machine'],
  ['http://[::1]:8080', 'this machine'],
  ['http://0.0.0.0:8080', 'this machine'],
  ['http://farm.localhost', 'this machine'],
  ['http://192.168.4.20:8080', 'house'],
  ['http://10.1.2.3', 'house'],
  ['http://172.16.0.1', 'house'],
  ['http://172.31.255.254', 'house'],
  ['http://100.64.0.9', 'house'],
  ['http://[fd12:3456::1]', 'house'],
  ['http://[fe80::1]', 'house'],
  ['https://bench.local', 'house'],
  ['https://bench', 'house'],
  ['https://farm.example.org', 'anybody'],
  ['http://172.32.0.1', 'anybody'],
  ['http://203.0.113.7', 'anybody'],
  ['http://[2001:db8::7]', 'anybody'],
])('%s is reached by: %s', (base, reach) => {
  expect(reachOf(base)).toBe(reach);
});
