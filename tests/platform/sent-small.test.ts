import { brotliDecompressSync, gunzipSync } from 'node:zlib';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// Content codings: RFC 9110, 8.4 and 12.5.3; conditional requests: RFC 9110, 13; immutable: RFC 8246.

let bench: Bench;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hand = await bench.as('hand');
});
afterAll(() => bench.close());

const ask = (url: string, headers: Record<string, string> = {}) => bench.app.inject({ url, headers });

test('a page comes packed to who takes it so, and says that it depends on that', async () => {
  const plain = await ask('/sign-in');
  expect(plain.headers['content-encoding']).toBeUndefined();
  for (const [coding, unpack] of [
    ['br', brotliDecompressSync],
    ['gzip', gunzipSync],
  ] as const) {
    const packed = await ask('/sign-in', { 'accept-encoding': coding });
    expect(packed.headers['content-encoding']).toBe(coding);
    expect(packed.headers.vary).toContain('accept-encoding');
    const page = unpack(packed.rawPayload).toString('utf8');
    // The same page but for the token and the key of its form.
    const bare = (html: string) => html.replaceAll(/name="_(csrf|key)" value="[^"]*"/g, '');
    expect(bare(page)).toBe(bare(plain.body));
    expect(packed.rawPayload.length).toBeLessThan(plain.rawPayload.length);
  }
});

test('the token of a form differs each time, so that the length of a packed page does not tell it', async () => {
  const tokens = await Promise.all(
    [1, 2, 3].map(async () => /name="_csrf" value="([^"]*)"/.exec((await hand.get('/people/me')).body)?.[1]),
  );
  expect(new Set(tokens).size).toBe(3);
});

test('a body that claims to be packed is not unpacked', async () => {
  const answer = await bench.app.inject({
    method: 'POST',
    url: '/sign-in',
    headers: { 'content-encoding': 'gzip', 'content-type': 'application/x-www-form-urlencoded' },
    payload: Buffer.from([31, 139, 8, 0]),
  });
  expect(answer.statusCode).toBeGreaterThanOrEqual(400);
  expect(answer.statusCode).toBeLessThan(500);
});

test('a script is sent again only when it changed', async () => {
  const first = await ask('/assets/round.js');
  expect(first.headers['cache-control']).toBe('no-cache');
  const again = await ask('/assets/round.js', { 'if-none-match': `"other", ${first.headers.etag}` });
  expect([again.statusCode, again.body]).toEqual([304, '']);
  expect((await ask('/assets/round.js', { 'if-none-match': '"other"' })).statusCode).toBe(200);
});

test('the stylesheet is kept for good under the address of its content, and for an hour without', async () => {
  const [, address = ''] =
    /href="(\/assets\/evenwater\.css\?v=[0-9a-f]{12})"/.exec((await ask('/sign-in')).body) ?? [];
  expect((await ask(address)).headers['cache-control']).toBe('public, max-age=31536000, immutable');
  expect((await ask('/assets/evenwater.css')).headers['cache-control']).toBe('public, max-age=3600');
});
