import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import { createServer as createSecureServer } from 'node:https';
import type { Config } from './platform/config.ts';
import { readTls } from './platform/tls/settings.ts';

/** Answers in the service's place while it starts. */
export interface Starting {
  /** Where it listens. */
  host: string;
  port: number;
  /** Gives the port free for the service. */
  end(): Promise<void>;
}

/** Seconds after which a page asks again. */
const againS = 2;
const words = 'Evenwater is starting. This page looks again every few seconds.';

const page = `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>One moment</title></head>
<body><h1>One moment</h1><p>${words}</p></body></html>`;

const problem = JSON.stringify({
  type: 'about:blank',
  title: 'Service Unavailable',
  status: 503,
  detail: words,
});

function answer(request: IncomingMessage, reply: ServerResponse): void {
  const { url = '/', method = 'GET', headers } = request;
  const say = (status: number, type: string, body: string) =>
    reply
      .writeHead(status, {
        'content-type': type,
        'cache-control': 'no-store',
        connection: 'close',
        'retry-after': String(againS),
        'content-security-policy': "default-src 'none'",
        'x-content-type-options': 'nosniff',
        // A form that was just sent is not sent again by itself.
        ...(method === 'GET' && type.startsWith('text/html') ? { refresh: String(againS) } : {}),
      })
      .end(body);
  if (url === '/health/live') say(200, 'application/json', '{"status":"starting"}');
  else if (url.startsWith('/health')) say(503, 'application/json', '{"status":"starting"}');
  else if (url.startsWith('/api/') || (headers.accept ?? '').includes('json'))
    say(503, 'application/problem+json', problem);
  else say(503, 'text/html; charset=utf-8', page);
}

const firstPort = 8080;

/**
 * Listens at once, so that whoever opens a page during a start is told so and the page comes by itself: reading the
 * program, waiting for the database and bringing it up to date take seconds. Null where the port is taken (by the instance
 * that this one follows, say) or is to be any: the service then looks for one itself.
 * @throws Error for settings of HTTPS that do not fit
 */
export async function answerWhileStarting(
  config: Pick<Config, 'HOST' | 'PORT' | 'TLS_CERTIFICATE' | 'TLS_KEY'>,
): Promise<Starting | null> {
  const { HOST: host, PORT: port = firstPort } = config;
  if (port === 0) return null;
  const tls = readTls(config, new Date());
  const server = tls === null ? createServer(answer) : createSecureServer(tls, answer);
  const isHeard = await new Promise<boolean>((done) => {
    server.once('error', () => done(false));
    server.listen(port, host, () => done(true));
  });
  if (!isHeard) return null;
  return {
    ...{ host, port },
    end: () =>
      new Promise((done) => {
        server.close(() => done());
        server.closeAllConnections();
      }),
  };
}
