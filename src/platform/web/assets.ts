import { globSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import fastifyStatic from '@fastify/static';
import { build } from 'esbuild';
import type { FastifyInstance } from 'fastify';
import { homeScreenIcons } from '../views/icons.ts';

const root = fileURLToPath(new URL('../../../', import.meta.url));
const year = 365 * 24 * 3600 * 1000;

/** Entry modules of the tablet's code: src/browser/<name>.ts becomes /assets/<name>.js. */
async function bundles(): Promise<Map<string, string>> {
  const entryPoints = globSync(`${root}src/browser/*.ts`);
  if (entryPoints.length === 0) return new Map();
  const built = await build({
    entryPoints,
    bundle: true,
    write: false,
    format: 'esm',
    target: 'es2022',
    minify: true,
    outdir: 'out',
    logLevel: 'silent',
  });
  return new Map(built.outputFiles.map((file) => [file.path.replace(/^.*\//, ''), file.text]));
}

/** Serves stylesheet, fonts and the browser's modules; all of them public, none with a session. */
export async function addAssets(app: FastifyInstance): Promise<void> {
  const bare = { config: { bare: true } };
  const scripts = await bundles();
  const icons = await homeScreenIcons(await readFile(`${root}views/assets/favicon.svg`));
  await app.register(fastifyStatic, { root: `${root}views/assets`, serve: false });
  app.get<{ Params: { '*': string } }>('/assets/fonts/*', bare, (request, reply) => {
    const family = request.params['*'].includes('-mono-') ? 'mono' : 'next';
    const files = `${root}node_modules/@fontsource-variable/atkinson-hyperlegible-${family}/files`;
    return reply.sendFile(request.params['*'], files, { maxAge: year, immutable: true });
  });
  app.get<{ Params: { '*': string } }>('/assets/*', bare, (request, reply) => {
    const name = request.params['*'];
    // The reader of scanned codes fetches its program beside its script.
    if (name === 'zxing_reader.wasm')
      return reply.sendFile(name, `${root}node_modules/zxing-wasm/dist/reader`, { maxAge: '1h' });
    const icon = icons.get(name);
    if (icon !== undefined)
      return reply.type('image/png').header('cache-control', 'public, max-age=86400').send(icon);
    const code = scripts.get(name);
    if (code === undefined) return reply.sendFile(name, `${root}views/assets`, { maxAge: '1h' });
    // The worker among the scripts may answer for pages of rounds and emergencies, though it stands with the assets.
    return reply
      .type('text/javascript; charset=utf-8')
      .headers({ 'cache-control': 'no-cache', 'service-worker-allowed': '/' })
      .send(code);
  });
}
