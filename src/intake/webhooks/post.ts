import { lookup } from 'node:dns/promises';
import { type ClientRequest, request as httpRequest, type IncomingMessage } from 'node:http';
import { request as httpsRequest } from 'node:https';
import { type BlockList, isIP } from 'node:net';
import { faultOfPlace, hostOf } from './addresses.rules.ts';

/** How a post was answered: its status, null where nobody answered; how that began, or why there is none; milliseconds. */
export interface Answer {
  status: number | null;
  answer: string;
  ms: number;
}

/** From looking the name up to the end of the answer (own choice; Standard Webhooks asks for 15 to 30 s at most). */
const longestMs = 10_000;
/** What is read and kept of an answer. */
const mostBytes = 2_000;
const mostSigns = 300;

const errorWords: Readonly<Record<string, string>> = {
  ECONNREFUSED: 'Nobody answers at this address.',
  ECONNRESET: 'The connection was closed before an answer.',
  EPIPE: 'The connection was closed before an answer.',
  ENOTFOUND: 'The name is not known.',
  EAI_AGAIN: 'The name could not be looked up.',
  EHOSTUNREACH: 'There is no way to this address.',
  ENETUNREACH: 'There is no way to this address.',
  ETIMEDOUT: 'No answer in time.',
};

/** An address that is not to be called. */
class Closed extends Error {}

function wordsOf(error: unknown): string {
  if (error instanceof Closed) return error.message;
  const { code = '', message, name } = error as Error & { code?: string };
  if (name === 'AbortError' || name === 'TimeoutError') return 'No answer in time.';
  return errorWords[code] ?? `It could not be sent: ${message || code}.`;
}

/**
 * One IP address that the name stands for now. It is looked up for each delivery and the connection goes to that very address,
 * so that a name cannot be turned to another one after it was checked. All that it stands for must be open.
 * @throws Closed
 */
async function resolved(url: URL, house: BlockList, signal: AbortSignal) {
  const host = hostOf(url);
  const family = isIP(host);
  const all =
    family === 0 ? await withinTime(lookup(host, { all: true }), signal) : [{ address: host, family }];
  for (const { address } of all) {
    const fault = faultOfPlace(url, address, house);
    if (fault !== null) throw new Closed(fault);
  }
  const [first] = all;
  if (first === undefined) throw new Closed('The name stands for no address.');
  return first;
}

/** What takes no longer than the signal allows. */
function withinTime<T>(work: Promise<T>, signal: AbortSignal): Promise<T> {
  return new Promise((done, failed) => {
    signal.addEventListener('abort', () => failed(signal.reason), { once: true });
    work.then(done, failed);
  });
}

/** The beginning of an answer, in signs that a page can show. */
async function beginningOf(answer: IncomingMessage): Promise<string> {
  const parts: Buffer[] = [];
  let bytes = 0;
  try {
    for await (const part of answer) {
      parts.push(part as Buffer);
      bytes += (part as Buffer).length;
      if (bytes >= mostBytes) break;
    }
  } catch {
    // The status has come: what is cut off behind it changes nothing.
  }
  answer.destroy();
  const text = Buffer.concat(parts).subarray(0, mostBytes).toString();
  return text
    .replace(/[\p{C}\s]+/gu, ' ')
    .trim()
    .slice(0, mostSigns);
}

function send(
  url: URL,
  { address, family }: { address: string; family: number },
  headers: Record<string, string>,
  body: string,
  signal: AbortSignal,
): Promise<IncomingMessage> {
  return new Promise((done, failed) => {
    const ask = url.protocol === 'https:' ? httpsRequest : httpRequest;
    const asked: ClientRequest = ask(url, {
      ...{ method: 'POST', headers, signal, agent: false, maxHeaderSize: 16_384 },
      lookup: (_host, { all }, told) =>
        all === true
          ? (told as (error: null, found: object[]) => void)(null, [{ address, family }])
          : told(null, address, family),
    });
    asked.on('response', done).on('error', failed).end(body);
  });
}

/**
 * Posts a body once: no redirection is followed, no proxy is used, and no more than the beginning of the answer is read.
 * @param house networks that may be reached besides the public internet
 * @param withinMs how long it may take
 */
export async function postOnce(
  address: string,
  headers: Record<string, string>,
  body: string,
  house: BlockList,
  withinMs = longestMs,
): Promise<Answer> {
  const began = performance.now();
  const signal = AbortSignal.timeout(withinMs);
  const url = new URL(address);
  let status: number | null = null;
  let answer: string;
  try {
    const place = await resolved(url, house, signal);
    const length = String(Buffer.byteLength(body));
    const answered = await send(url, place, { ...headers, 'content-length': length }, body, signal);
    status = answered.statusCode ?? null;
    answer = await beginningOf(answered);
  } catch (error) {
    answer = wordsOf(error);
  }
  return { status, answer, ms: Math.round(performance.now() - began) };
}
