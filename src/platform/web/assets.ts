import { createHash } from 'node:crypto';
import { globSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import { constants } from 'node:zlib';
import fastifyCompress from '@fastify/compress';
import fastifyStatic from '@fastify/static';
import { build } from 'esbuild';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { homeScreenIcons } from '../charts/home-screen-icons.ts';

const root = fileURLToPath(new URL('../../../', import.meta.url));
const year = 365 * 24 * 3600 * 1000;

/** Entry modules of the tablet's code: src/browser/<name>.ts becomes /assets/<name>.js. */
async function bundles(): Promise<Map<string, Script>> {
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
  return new Map(built.outputFiles.map((file) => [file.path.replace(/^.*\//, ''), marked(file.text)]));
}

/** A built script with a mark of what is in it. */
interface Script {
  code: string;
  etag: string;
}

const marked = (code: string): Script => ({
  code,
  etag: `W/"${createHash('sha256').update(code).digest('base64url').slice(0, 22)}"`,
});

/** Sends a script, or says that the one at hand is still right. */
function sendScript(request: FastifyRequest, reply: FastifyReply, { code, etag }: Script) {
  reply.headers({
    'cache-control': 'no-cache',
    etag,
    // The worker among the scripts may answer for pages of rounds and emergencies, though it stands with the assets.
    'service-worker-allowed': '/',
  });
  // Compared weakly (RFC 9110, 13.1.2): packed and unpacked are one script.
  const known = (request.headers['if-none-match'] ?? '').split(',').map((one) => one.trim());
  if (known.includes(etag)) return reply.code(304).send();
  return reply.type('text/javascript; charset=utf-8').send(code);
}

/**
 * Sends text compressed where the reader takes it: a page shrinks to a tenth, which a tablet at the far end of the room
 * notices. The forms' tokens are drawn anew for each page, so that the length of a compressed page tells nothing of them.
 * What is sent to the service is not unpacked: a small body stays small.
 */
export async function addCompression(app: FastifyInstance): Promise<void> {
  await app.register(fastifyCompress, {
    encodings: ['br', 'gzip'],
    // Shorter ones gain nothing: own choice, about one packet of a network.
    threshold: 1400,
    globalDecompression: false,
    // Level 4 of 11: beyond it a page costs more time than it saves. Own choice.
    brotliOptions: { params: { [constants.BROTLI_PARAM_QUALITY]: 4 } },
  });
}

/** What takes time to make, made once a process and when first asked for; again where it failed. */
function madeOnce<T>(make: () => Promise<T>): () => Promise<T> {
  let made: Promise<T> | undefined;
  return () => {
    made ??= make().catch((error: unknown) => {
      made = undefined;
      throw error;
    });
    return made;
  };
}

// A start does not wait for them.
const scripts = madeOnce(bundles);
const icons = madeOnce(async () => homeScreenIcons(await readFile(`${root}views/assets/favicon.svg`)));

/** A mark of what a built script holds; empty where there is no such script. */
export const scriptMark = async (name: string): Promise<string> => (await scripts()).get(name)?.etag ?? '';

/** Serves stylesheet, fonts and the browser's modules; all of them public, none with a session. */
export async function addAssets(app: FastifyInstance): Promise<void> {
  const bare = { config: { bare: true } };
  // Whoever opens the first page wants them at once.
  app.addHook('onListen', (done) => {
    scripts().catch((error: unknown) =>
      app.log.error({ err: error }, 'The scripts of the pages cannot be built'),
    );
    done();
  });
  await app.register(fastifyStatic, { root: `${root}views/assets`, serve: false });
  app.get<{ Params: { '*': string } }>('/assets/fonts/*', bare, (request, reply) => {
    const family = request.params['*'].includes('-mono-') ? 'mono' : 'next';
    const files = `${root}node_modules/@fontsource-variable/atkinson-hyperlegible-${family}/files`;
    return reply.sendFile(request.params['*'], files, { maxAge: year, immutable: true });
  });
  app.get<{ Params: { '*': string }; Querystring: { v?: string } }>(
    '/assets/*',
    bare,
    async (request, reply) => {
      const name = request.params['*'];
      // The reader of scanned codes fetches its program beside its script.
      if (name === 'zxing_reader.wasm')
        return reply.sendFile(name, `${root}node_modules/zxing-wasm/dist/reader`, { maxAge: '1h' });
      const icon = name.endsWith('.png') ? (await icons()).get(name) : undefined;
      if (icon !== undefined)
        return reply.type('image/png').header('cache-control', 'public, max-age=86400').send(icon);
      const script = name.endsWith('.js') ? (await scripts()).get(name) : undefined;
      if (script !== undefined) return sendScript(request, reply, script);
      // An address that carries the mark of its content never changes what it holds.
      const keeps = request.query.v === undefined ? { maxAge: '1h' } : { maxAge: year, immutable: true };
      return reply.sendFile(name, `${root}views/assets`, keeps);
    },
  );
}
