/** Writes and looks as farms do, from a thread of its own, so that sending takes none of the time in which the service answers. */
import { Agent, request } from 'node:http';
import { setTimeout } from 'node:timers/promises';
import { parentPort } from 'node:worker_threads';
import { uuidv7 } from 'uuidv7';

/** A farm of the chain: what its probes, its tablet and its manager send with. */
export interface Farm {
  /** Of the key that its probes are posted with, and the names of its probes. */
  key: string;
  probes: string[];
  cookie: string;
  csrf: string;
  roundId: string;
  racks: string[];
}

/** How often each farm does what, times a minute. */
export interface Pace {
  packs: number;
  entries: number;
  pages: number;
}

export interface Walking {
  url: string;
  farms: Farm[];
  pace: Pace;
  seconds: number;
}

export const doings = ['packs', 'entries', 'pages'] as const;
export type Doing = (typeof doings)[number];

/** What came of one kind of request: ms from the moment it was due, and how many were not taken. */
export interface Told {
  times: number[];
  refused: number;
}

export interface Walked {
  told: Record<Doing, Told>;
  /** The first answer that was not what it should be. */
  wrong: string;
}

interface Sent {
  path: string;
  method: 'GET' | 'POST';
  headers: Record<string, string>;
  body: string;
}

const agent = new Agent({ keepAlive: true, maxSockets: 200 });

function ask(url: string, { path, method, headers, body }: Sent): Promise<{ status: number; text: string }> {
  return new Promise((resolve, reject) => {
    const length = method === 'GET' ? {} : { 'content-length': Buffer.byteLength(body) };
    const asked = request(url + path, { agent, method, headers: { ...headers, ...length } }, (answer) => {
      let text = '';
      answer.on('data', (part: Buffer) => {
        text += String(part);
      });
      answer.on('error', reject);
      answer.on('end', () => resolve({ status: answer.statusCode ?? 0, text }));
    });
    asked.on('error', reject);
    asked.end(body);
  });
}

/** One value of each of its probes (SenML, RFC 8428). */
function packOf({ key, probes }: Farm): Sent {
  const t = Math.round(Date.now() / 1000);
  const body = JSON.stringify(probes.map((n, i) => ({ n, u: 'Cel', t, v: 25 + 0.01 * (i + (t % 7)) })));
  const headers = { authorization: `Bearer ${key}`, 'content-type': 'application/senml+json' };
  return { path: '/api/senml', method: 'POST', headers, body };
}

let passed = 0;

/** All on one rack are well: a look at each lot that stands there. */
function entryOf({ cookie, csrf, roundId, racks }: Farm): Sent {
  const rackId = racks[passed++ % racks.length];
  const entry = { id: uuidv7(), kind: 'rack_well', rackId, at: new Date().toISOString() };
  const headers = {
    ...{ cookie, accept: 'application/json', 'content-type': 'application/json' },
    'x-csrf-token': csrf,
  };
  return { path: `/api/rounds/${roundId}/entries`, method: 'POST', headers, body: JSON.stringify([entry]) };
}

const pageOf = ({ cookie }: Farm): Sent => ({
  ...{ path: '/', method: 'GET', headers: { cookie, accept: 'text/html' }, body: '' },
});

const sendings: Record<Doing, (farm: Farm) => Sent> = { packs: packOf, entries: entryOf, pages: pageOf };

const wasTaken = ({ status, text }: { status: number; text: string }) =>
  status === 200 && !text.includes('"outcome":"refused"');

/** When each farm does what, ms from the beginning: evenly through its minute, each farm from a moment of its own. */
function dueTimes({ farms, pace, seconds }: Walking): { at: number; doing: Doing; farm: Farm }[] {
  return farms
    .flatMap((farm) =>
      doings.flatMap((doing) => {
        const every = 60_000 / pace[doing];
        const first = Math.random() * every;
        const times = Math.max(0, Math.ceil((1000 * seconds - first) / every));
        return Array.from({ length: times }, (_, n) => ({ at: first + n * every, doing, farm }));
      }),
    )
    .sort((a, b) => a.at - b.at);
}

/**
 * Sends each thing when it is due, whether or not what was sent before is answered: a service that falls behind is waited
 * for ever longer, as in life.
 */
async function walk(walking: Walking): Promise<Walked> {
  const told = Object.fromEntries(
    doings.map((doing) => [doing, { times: [], refused: 0 }]),
  ) as unknown as Record<Doing, Told>;
  let wrong = '';
  const begun = performance.now();
  const under: Promise<void>[] = [];
  const until = async (at: number) => {
    const early = at - (performance.now() - begun);
    if (early > 0) await setTimeout(early);
  };
  for (const { at, doing, farm } of dueTimes(walking)) {
    await until(at);
    under.push(
      ask(walking.url, sendings[doing](farm)).then(
        (answer) => {
          told[doing].times.push(performance.now() - begun - at);
          if (wasTaken(answer)) return;
          told[doing].refused += 1;
          wrong ||= `${doing}: ${answer.status} ${answer.text.slice(0, 300)}`;
        },
        (error: unknown) => {
          told[doing].refused += 1;
          wrong ||= `${doing}: ${String(error)}`;
        },
      ),
    );
  }
  await until(1000 * walking.seconds);
  await Promise.all(under);
  return { told, wrong };
}

parentPort?.on('message', (walking: Walking) => {
  void walk(walking).then((walked) => parentPort?.postMessage(walked));
});
