import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, browse, startBench } from '../support/service.ts';

describe('an empty farm', () => {
  let bench: Bench;
  beforeAll(async () => {
    bench = await startBench({ care: false });
  });
  afterAll(() => bench.close());

  test('shows the first-run page whatever is asked for, and has no default password', async () => {
    const visitor = browse(bench.app);
    expect((await visitor.get('/people')).location).toBe('/welcome');
    expect((await visitor.get('/sign-in')).location).toBe('/welcome');
    expect((await visitor.get('/welcome')).body).toContain('Set up the farm');
    expect(await bench.service.db.account.count()).toBe(0);
  });
});

describe('setting up and signing in', () => {
  let bench: Bench;
  const owner = { name: 'Ines Varga', email: 'Ines@Example.org', password: 'three unrelated words' };
  beforeAll(async () => {
    bench = await startBench({ care: false });
  });
  afterAll(() => bench.close());

  test('a refused set-up keeps what was typed and says what to do beside the field', async () => {
    const visitor = browse(bench.app);
    await visitor.get('/welcome');
    const answer = await postWelcome(visitor, {
      ...owner,
      siteName: 'Saltgate Yard',
      timeZone: 'Nowhere',
      password: 'short',
    });
    expect(answer.status).toBe(422);
    expect(answer.body).toContain('value="Saltgate Yard"');
    expect(answer.body).toContain('like Europe/Lisbon');
    expect(answer.body).toContain('<title>Error: Set up the farm');
    expect(answer.body).not.toContain('value="short"');
  });

  test('the first visitor becomes owner of the first site, once', async () => {
    const visitor = browse(bench.app);
    const answer = await postWelcome(visitor, {
      ...owner,
      siteName: 'Saltgate Yard',
      timeZone: 'lisbon',
    });
    expect(answer.location).toBe('/farm');
    expect((await bench.service.db.site.findFirstOrThrow()).timeZone).toBe('Europe/Lisbon');
    const again = await postWelcome(browse(bench.app), { ...owner, siteName: 'Another', timeZone: 'UTC' });
    expect(again.status).toBe(409);
    expect(await bench.service.db.account.findMany({ select: { email: true, role: true } })).toEqual([
      { email: 'ines@example.org', role: 'owner' },
    ]);
    const kinds = await bench.service.db.journalLine.findMany({ select: { kind: true } });
    expect(kinds.map((line) => line.kind).sort()).toEqual(['account.created', 'site.created']);
  });

  test('a wrong password is refused without saying which of the two was wrong', async () => {
    const visitor = browse(bench.app);
    const wrong = await visitor.post('/sign-in', { email: owner.email, password: 'not it, not at all' });
    const unknown = await visitor.post('/sign-in', {
      email: 'nobody@example.org',
      password: 'not it, not at all',
    });
    for (const answer of [wrong, unknown]) {
      expect(answer.status).toBe(422);
      expect(answer.body).toContain('do not belong together');
    }
  });

  test('signing in leads back to the page that was asked for', async () => {
    const visitor = browse(bench.app);
    expect((await visitor.get('/people')).location).toBe('/sign-in?to=%2Fpeople');
    expect((await visitor.get('/sign-in?to=%2Fpeople')).body).toContain('name="to" value="/people"');
    const answer = await visitor.post('/sign-in', {
      email: owner.email,
      password: owner.password,
      to: '/people',
    });
    expect(answer.location).toBe('/people');
    expect((await visitor.get('/people')).body).toContain('Ines Varga');
  });

  test('a post without the form token is refused', async () => {
    const answer = await bench.app.inject({
      method: 'POST',
      url: '/sign-in',
      payload: {},
      headers: { accept: 'text/html' },
    });
    expect(answer.statusCode).toBe(403);
  });

  test('JSON without a sign-in is answered with problem details', async () => {
    const answer = await bench.app.inject({
      method: 'GET',
      url: '/people',
      headers: { accept: 'application/json' },
    });
    expect(answer.statusCode).toBe(401);
    expect(answer.headers['content-type']).toContain('application/problem+json');
    expect(answer.json()).toMatchObject({ type: 'about:blank', status: 401, detail: 'Sign in first.' });
  });
});

async function postWelcome(visitor: ReturnType<typeof browse>, form: Record<string, string>) {
  const page = await visitor.get('/welcome');
  const token = /name="_csrf" value="([^"]+)"/.exec(page.body)?.[1] ?? (await signInToken(visitor));
  return visitor.post('/welcome', { ...form, _csrf: token });
}

async function signInToken(visitor: ReturnType<typeof browse>): Promise<string> {
  return /name="_csrf" value="([^"]+)"/.exec((await visitor.get('/sign-in')).body)?.[1] ?? '';
}
