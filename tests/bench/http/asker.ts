/** Asks the service from a thread of its own, so that asking takes none of the time in which the service answers. */
import { Agent, get } from 'node:http';
import { parentPort } from 'node:worker_threads';

/** So many requests of one address over so many connections. */
export interface Asked {
  url: string;
  cookie: string;
  connections: number;
  requests: number;
}

/** What came back: each answer's time, and the last one's status and length, uncompressed. */
export interface Heard {
  times: number[];
  status: number;
  bytes: number;
}

interface Answer {
  ms: number;
  status: number;
  bytes: number;
}

function once(agent: Agent, { url, cookie }: Asked): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const start = performance.now();
    const headers = { cookie, accept: url.includes('/api/') ? 'application/json' : 'text/html' };
    get(url, { agent, headers }, (answer) => {
      let bytes = 0;
      answer.on('data', (part: Buffer) => {
        bytes += part.length;
      });
      answer.on('error', reject);
      answer.on('end', () =>
        resolve({ ms: performance.now() - start, status: answer.statusCode ?? 0, bytes }),
      );
    }).on('error', reject);
  });
}

async function askAll(asked: Asked): Promise<Heard> {
  const agent = new Agent({ keepAlive: true, maxSockets: asked.connections });
  const heard: Heard = { times: [], status: 0, bytes: 0 };
  let left = asked.requests;
  const connection = async () => {
    while (left > 0) {
      left -= 1;
      const { ms, status, bytes } = await once(agent, asked);
      heard.times.push(ms);
      Object.assign(heard, { status, bytes });
    }
  };
  await Promise.all(Array.from({ length: asked.connections }, connection));
  agent.destroy();
  return heard;
}

parentPort?.on('message', (asked: Asked) => {
  void askAll(asked).then((heard) => parentPort?.postMessage(heard));
});
