import { execFile } from 'node:child_process';
import { mkdtemp, rm, symlink, writeFile } from 'node:fs/promises';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import openapiTypescript from 'openapi-typescript';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Hall } from '../rounds/hall.ts';
import type { Bench } from '../support/service.ts';

const run = promisify(execFile);
const project = new URL('../../', import.meta.url).pathname;

/** A program as a stranger writes one: reads and writes by the generated types alone, and says in JSON what it saw. */
const program = `
import createClient from 'openapi-fetch';
import type { paths } from './client.d.ts';

const { BASE = '', KEY = '', SYSTEM = '' } = process.env;
const client = createClient<paths>({ baseUrl: BASE, headers: { authorization: \`Bearer \${KEY}\` } });
type Tank = NonNullable<paths['/api/v1/farm/tanks/{id}']['post']['requestBody']>['content']['application/json'];
const once = () => ({ 'Idempotency-Key': crypto.randomUUID() });

const posted = await client.POST('/api/v1/readings', {
  params: { header: once() },
  body: { systemId: SYSTEM, at: '2026-11-24T07:30:00Z', readings: [{ quantityCode: 'temperature', text: '25.4', unit: 'degC' }] },
});
const read = await client.GET('/api/v1/readings', { params: { query: { systemId: SYSTEM, quantityCode: 'temperature' } } });
const alerts = await client.GET('/api/v1/alerts', { params: { query: { system: SYSTEM, limit: 1 } } });
const severities: ('now' | 'today' | 'watch')[] = (alerts.data?.alerts ?? []).map(({ severity }) => severity);
const systems = await client.GET('/api/v1/lists/systems', { params: { query: { limit: 5 } } });
const names: (string | null)[] = (systems.data?.rows ?? []).map((row) => row.system);

const made = await client.POST('/api/v1/farm/systems/{id}/tanks', {
  params: { path: { id: SYSTEM }, header: once() },
  body: { name: 'By a client', lengthMm: 120, widthMm: 60, heightMm: 50 },
});
const id = made.data?.id ?? '';
const form = await client.GET('/api/v1/farm/tanks/{id}', { params: { path: { id } } });
const changed = await client.POST('/api/v1/farm/tanks/{id}', {
  params: { path: { id }, header: { ...once(), 'If-Match': form.response.headers.get('etag') ?? '' } },
  body: { ...(form.data?.values as unknown as Tank), note: 'by a client' },
});
const refused = await client.POST('/api/v1/farm/systems/{id}/tanks', {
  params: { path: { id: SYSTEM }, header: once() },
  body: { name: '', lengthMm: -3, widthMm: 60, heightMm: 50 },
});
const errors: string[] = (refused.error?.errors ?? []).map(({ field }) => field);

// What the types keep from being written: a route that is none, a body and a query without what they need.
// @ts-expect-error
type _1 = paths['/api/v1/nothing-of-the-kind'];
// @ts-expect-error
const _2: NonNullable<paths['/api/v1/readings']['post']['requestBody']>['content']['application/json'] = { at: 7 };
// @ts-expect-error
const _3: paths['/api/v1/readings']['get']['parameters']['query'] = { quantityCode: 'temperature' };

console.log(JSON.stringify({
  statuses: [posted, read, alerts, systems, made, form, changed, refused].map(({ response }) => response.status),
  severities, names, id, errors, open: alerts.data?.open ?? null, next: alerts.data?.next ?? null,
}));
`;

const settings = {
  compilerOptions: {
    ...{ strict: true, module: 'nodenext', target: 'es2024', noEmit: true, allowImportingTsExtensions: true },
    ...{ lib: ['es2024', 'dom'], types: ['node'], skipLibCheck: false },
  },
  files: ['program.ts'],
};

/** A client made of the served document by a public generator; nothing of it is kept. */
export function generatedClient(
  given: () => { bench: Bench; hall: Hall; makeKey: (scopes: string[]) => Promise<string> },
): void {
  describe('a client that is generated from the document', () => {
    let folder: string;
    beforeAll(async () => {
      folder = await mkdtemp(join(tmpdir(), 'evenwater-client-'));
      await symlink(join(project, 'node_modules'), join(folder, 'node_modules'));
      await writeFile(join(folder, 'package.json'), '{"type":"module"}');
      await writeFile(join(folder, 'tsconfig.json'), JSON.stringify(settings));
      await writeFile(join(folder, 'program.ts'), program);
    });
    afterAll(() => rm(folder, { recursive: true, force: true }));

    test('compiles, reads and writes', async () => {
      const { bench, hall, makeKey } = given();
      const key = await makeKey(['read', 'readings', 'farm']);
      const headers = { authorization: `Bearer ${key}` };
      const served = await bench.app.inject({ url: '/api/v1/openapi.json', headers });
      await writeFile(join(folder, 'client.d.ts'), await openapiTypescript(served.json()));
      const compiled = await run(join(project, 'node_modules/.bin/tsc'), ['-p', folder]).catch(
        (error) => error,
      );
      expect(compiled.stdout.slice(0, 2000)).toBe('');

      if (!bench.app.server.listening) await bench.app.listen({ port: 0, host: '127.0.0.1' });
      const { port } = bench.app.server.address() as AddressInfo;
      const env = { ...process.env, BASE: `http://127.0.0.1:${port}`, KEY: key, SYSTEM: hall.systemId };
      const { stdout } = await run(process.execPath, [join(folder, 'program.ts')], { env });
      const said = JSON.parse(stdout) as Record<string, unknown> & { id: string };
      expect(said).toMatchObject({
        statuses: [201, 200, 200, 200, 201, 200, 200, 422],
        errors: expect.arrayContaining(['name', 'lengthMm']),
      });
      const { db } = bench.service;
      expect(await db.tank.findUniqueOrThrow({ where: { id: said.id } })).toMatchObject({
        note: 'by a client',
      });
      expect(said.names).toContain(
        (await db.system.findUniqueOrThrow({ where: { id: hall.systemId } })).name,
      );
    });
  });
}
