import { afterAll, beforeAll, expect, test } from 'vitest';
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
  const answer = await manager.post('/tags', { lot: hall.lots.A1.code, pieces: 1, reason: '' });
  expect(answer.status, answer.body).toBe(303);
  tag = String(answer.location);
}, 60_000);
afterAll(() => bench.close());

const html = { accept: 'text/html' };

test('without a setting, a tag leads to the name this machine was asked for by', async () => {
  const { body } = await manager.get(tag, { ...html, host: 'localhost:8080' });
  expect(body).toContain('http://localhost:8080/t/');
  expect(body).toContain('QR code of the public page');
});

test.each(['evil.example', 'evil.example:80', 'localhost.evil.example', '[::bad', 'a b'])(
  'a host that is made up (%s) gets on no tag, no code, no label and no redirection',
  async (host) => {
    const answer = await manager.get(tag, { ...html, host });
    expect(answer.status).toBe(200);
    expect(answer.body).not.toContain(host);
    expect(answer.body).not.toContain('QR code of the public page');
    expect(answer.body).toContain('Set PUBLIC_URL');
    const forwarded = await manager.get(tag, { ...html, host: 'localhost:8080', 'x-forwarded-host': host });
    expect(forwarded.body).toContain('http://localhost:8080/t/');
    const sheet = await bench.service.db.labelSheet.findFirst();
    const query = `tag=${tag.replace('/tags/', '')}&sheet=${sheet?.id ?? ''}&first=1`;
    expect((await manager.get(`/tags/labels.pdf?${query}`, { ...html, host })).status).not.toBe(200);
    const asked = await bench.app.inject({ url: '/farm', headers: { ...html, host } });
    expect(String(asked.headers.location)).toMatch(/^\/sign-in/);
  },
);
