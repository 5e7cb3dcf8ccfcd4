/** Tablets that walk one round, in a thread of their own: what they send and fetch is sent and fetched as the browser does. */
import { Agent, request } from 'node:http';
import { setTimeout as wait } from 'node:timers/promises';
import { parentPort } from 'node:worker_threads';
import { uuidv7 } from 'uuidv7';
import type { EntryAnswer, Network, Result } from '../../../src/browser/round/network.ts';
import { troubleOf } from '../../../src/browser/round/network.ts';
import { Sender } from '../../../src/browser/round/sender.ts';
import { memoryStore } from '../../../src/browser/store/memory-store.ts';
import { letGoOfSettled } from '../../../src/browser/store/queue.ts';
import { renewRound, showing } from '../../../src/browser/store/round-copy.ts';
import type { TabletEntry, TabletRound } from '../../../src/browser/store/types.ts';

/** A rack of the round with the lots that stand on it. */
export interface Rack {
  id: string;
  lots: string[];
}

export interface Walk {
  url: string;
  roundId: string;
  /** One for each tablet. */
  cookies: string[];
  racks: Rack[];
  /** Between two taps of a tablet, s; 0: the next as soon as the last one is with the service. */
  every: number;
  seconds: number;
}

/** What came of it, ms: from the tap until the service has it, and until the screens that show it are drawn anew. */
export interface Walked {
  held: number[];
  drawn: number[];
  /** Until the tablets had the round, and how much they keep of it, kB. */
  ms: number;
  kB: number;
  refused: number;
  /** Answers of the service for the copies of the round: how many, and the largest, kB. */
  answers: number;
  largest: number;
}

const agent = new Agent({ keepAlive: true, maxSockets: 100 });

function ask(
  url: string,
  { method = 'GET', headers, body = '' }: { method?: string; headers: Record<string, string>; body?: string },
): Promise<{ status: number; text: string }> {
  return new Promise((resolve, reject) => {
    const length = body === '' ? {} : { 'content-length': Buffer.byteLength(body) };
    const asked = request(url, { agent, method, headers: { ...headers, ...length } }, (answer) => {
      const parts: Buffer[] = [];
      answer.on('data', (part: Buffer) => parts.push(part));
      answer.on('error', reject);
      answer.on('end', () =>
        resolve({ status: answer.statusCode ?? 0, text: Buffer.concat(parts).toString() }),
      );
    });
    asked.on('error', reject);
    asked.end(body);
  });
}

const resultOf = <T>({ status, text }: { status: number; text: string }): Result<T> =>
  status < 300 ? { ok: true, value: JSON.parse(text) as T } : { ok: false, trouble: troubleOf(status) };

/** One tablet: the sender and the store of the browser, and no screen. */
class Tablet {
  readonly #walk: Walk;
  readonly #walked: Walked;
  readonly #cookie: string;
  readonly #store = memoryStore();
  readonly #sender: Sender;
  readonly #tapped = new Map<string, number>();
  #round: TabletRound | undefined;
  #here = '';

  constructor(walk: Walk, walked: Walked, cookie: string) {
    this.#walk = walk;
    this.#walked = walked;
    this.#cookie = cookie;
    const hooks = {
      changed: () => undefined,
      wanted: async () => {
        const sent = (await this.#store.all()).filter(({ standing }) => standing !== 'refused');
        const { screens, allChanged } = showing(walk.roundId, sent);
        return { copy: this.#round, screens: [this.#here, ...screens], allChanged };
      },
      fetched: async (round: TabletRound, settled: ReadonlySet<string>) => {
        this.#round = round;
        for (const id of settled) this.#note(id, this.#walked.drawn);
        await letGoOfSettled(this.#store, round, settled);
      },
    };
    this.#sender = new Sender(this.#store, walk.roundId, hooks, this.#network());
  }

  #note(id: string, times: number[]): void {
    const at = this.#tapped.get(id);
    if (at !== undefined) times.push(performance.now() - at);
  }

  #network(): Network {
    const headers = { cookie: this.#cookie, accept: 'application/json' };
    const round = `${this.#walk.url}/api/rounds/${this.#walk.roundId}`;
    const draw = async (paths: readonly string[]) => {
      const answer = await ask(`${round}?${new URLSearchParams(paths.map((path) => ['draw', path]))}`, {
        headers,
      });
      this.#walked.answers += 1;
      this.#walked.largest = Math.max(this.#walked.largest, answer.text.length / 1000);
      return resultOf<TabletRound>(answer);
    };
    return {
      round: (_, wanted, keep) => renewRound(wanted, draw, keep),
      entries: async (_, csrf, entries) => {
        const answer = await ask(`${round}/entries`, {
          method: 'POST',
          headers: { ...headers, 'content-type': 'application/json', 'x-csrf-token': csrf },
          body: JSON.stringify(entries),
        });
        const sent = resultOf<{ entries: EntryAnswer[] }>(answer);
        if (!sent.ok) return sent;
        for (const { id, outcome } of sent.value.entries) {
          this.#note(id, this.#walked.held);
          if (outcome === 'refused') this.#walked.refused += 1;
        }
        return { ok: true, value: sent.value.entries };
      },
      photo: async () => ({ ok: true, value: { outcome: 'taken' } }),
    };
  }

  /** Opens the round: all of it is fetched, where there is no copy. @returns the copy */
  async open(copy: TabletRound | undefined): Promise<TabletRound | undefined> {
    this.#round = copy;
    this.#here = `/rounds/${this.#walk.roundId}`;
    await this.#sender.refresh();
    return this.#round;
  }

  /** Walks on from a rack: notes three lots of each, then that the others are well. */
  async walk(from: number): Promise<void> {
    const { racks, every, seconds, roundId } = this.#walk;
    const end = performance.now() + 1000 * seconds;
    await wait(1000 * every * Math.random());
    for (let n = 0; performance.now() < end; n++) {
      const rack = racks[(from + Math.floor(n / 4)) % racks.length];
      if (rack === undefined) return;
      this.#here = `/rounds/${roundId}/racks/${rack.id}`;
      const lotId = rack.lots[(n + 7 * from) % rack.lots.length] ?? '';
      const noted = { kind: 'condition', rackId: rack.id, lotId, state: n % 8 < 4 ? 'paling' : 'well' };
      await this.#tap(n % 4 === 3 ? { kind: 'rack_well', rackId: rack.id } : noted);
      await (every === 0 ? this.#allHeld() : wait(1000 * every * (0.75 + Math.random() / 2)));
    }
    await this.#allHeld();
    this.#sender.stop();
  }

  async #tap(fields: Record<string, string> & { kind: string }): Promise<void> {
    const entry: TabletEntry = {
      ...{ id: uuidv7(), at: new Date().toISOString(), label: '', notedBy: '' },
      ...fields,
    };
    this.#tapped.set(entry.id, performance.now());
    await this.#store.add(this.#walk.roundId, entry, 'waiting');
    this.#sender.sendNow();
  }

  async #allHeld(): Promise<void> {
    while ((await this.#store.all()).some(({ standing }) => standing === 'waiting')) await wait(5);
  }
}

/** The round as the first tablet fetched it, which the others begin with. */
let copy: TabletRound | undefined;

async function walkAll(walk: Walk): Promise<Walked> {
  const walked: Walked = { held: [], drawn: [], ms: 0, kB: 0, refused: 0, answers: 0, largest: 0 };
  const tablets = walk.cookies.map((cookie) => new Tablet(walk, walked, cookie));
  const begun = performance.now();
  for (const tablet of tablets) copy = await tablet.open(copy);
  walked.ms = performance.now() - begun;
  walked.kB = JSON.stringify(copy).length / 1000;
  if (walk.seconds === 0) return walked;
  walked.answers = 0;
  const far = walk.racks.length / tablets.length;
  await Promise.all(tablets.map((tablet, n) => tablet.walk(Math.floor(n * far))));
  return walked;
}

parentPort?.on('message', (walk: Walk) => {
  void walkAll(walk).then((walked) => parentPort?.postMessage(walked));
});
