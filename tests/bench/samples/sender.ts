/** Sends packs from a thread of its own, so that sending takes none of the time in which the service answers. */
import { Agent, request } from 'node:http';
import { parentPort } from 'node:worker_threads';

/** Packs of samples over so many connections: each is a minute later than the one before. */
export interface Sending {
  url: string;
  key: string;
  connections: number;
  packs: number;
  /** Samples of a pack. */
  each: number;
  names: string[];
  /** Unix time of the first, in seconds. */
  from: number;
}

/** How long each answer took, in ms, all of them together, and what was taken. */
export interface Sent {
  times: number[];
  ms: number;
  taken: number;
}

/** The values of one pack as SenML (RFC 8428): one time for as many probes as it has samples, or several times. */
export function packOf({ names, each, from }: Sending, n: number): object[] {
  return Array.from({ length: each }, (_, i) => {
    const place = n * each + i;
    const value = 25 + 0.001 * (place % 997);
    return {
      n: names[place % names.length],
      u: 'Cel',
      t: from + 60 * Math.floor(place / names.length),
      v: value,
    };
  });
}

function post(agent: Agent, { url, key }: Sending, body: string): Promise<number> {
  return new Promise((resolve, reject) => {
    const headers = {
      authorization: `Bearer ${key}`,
      'content-type': 'application/senml+json',
      'content-length': Buffer.byteLength(body),
    };
    const asked = request(url, { agent, method: 'POST', headers }, (answer) => {
      let text = '';
      answer.on('data', (part: Buffer) => {
        text += String(part);
      });
      answer.on('end', () => {
        if (answer.statusCode === 200) resolve((JSON.parse(text) as { taken: number }).taken);
        else reject(new Error(`${answer.statusCode} ${text}`));
      });
    });
    asked.on('error', reject);
    asked.end(body);
  });
}

async function send(sending: Sending): Promise<Sent> {
  const agent = new Agent({ keepAlive: true, maxSockets: sending.connections });
  const bodies = Array.from({ length: sending.packs }, (_, n) => JSON.stringify(packOf(sending, n)));
  const sent: Sent = { times: [], ms: 0, taken: 0 };
  let next = 0;
  const start = performance.now();
  const connection = async () => {
    for (let n = next++; n < bodies.length; n = next++) {
      const begun = performance.now();
      const taken = await post(agent, sending, bodies[n] ?? '');
      sent.taken += taken;
      sent.times.push(performance.now() - begun);
    }
  };
  await Promise.all(Array.from({ length: sending.connections }, connection));
  sent.ms = performance.now() - start;
  agent.destroy();
  return sent;
}

parentPort?.on('message', (sending: Sending) => {
  send(sending).then(
    (sent) => parentPort?.postMessage(sent),
    (error: unknown) => parentPort?.postMessage({ error: String(error) }),
  );
});
