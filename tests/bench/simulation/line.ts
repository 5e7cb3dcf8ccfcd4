import {
  type EntryAnswer,
  type Network,
  type Result,
  troubleOf,
} from '../../../src/browser/round/network.ts';
import type { TabletRound } from '../../../src/browser/store/types.ts';
import type { Answer, Ledger, Request } from './ledger.ts';

/** How long a tablet waits for an answer, ms: as in the browser. */
const patience = 20_000;
const never = new Promise<never>(() => undefined);

/** What may happen to a request on its way. */
export interface LineFaults {
  /** Nothing comes through at the moment. */
  isCut(): boolean;
  losesRequest(): boolean;
  losesAnswer(): boolean;
  /** How long it is on its way, ms. */
  delay(): number;
  /** Where it comes twice: how much later the second time; null where it does not. */
  repeat(): number | null;
}

/** The page that asks. */
export interface Asker {
  session(): string | null;
  deviceNow(): Date;
  isGone(): boolean;
}

/** The tablet's way of speaking with the service, over a line that loses, delays, repeats and reorders. */
export function faultyLine(
  ledger: Ledger,
  faults: LineFaults,
  asker: Asker,
  wait: (ms: number) => Promise<void>,
): Network {
  const deliver = async (request: Request): Promise<Answer | null> => {
    if (faults.isCut() || faults.losesRequest()) return null;
    const again = faults.repeat();
    await wait(faults.delay());
    if (again !== null) void wait(again).then(() => ledger.answer(request));
    const answer = await ledger.answer(request);
    await wait(faults.delay());
    return faults.isCut() || faults.losesAnswer() ? null : answer;
  };
  const ask = async <T>(path: Request['path'], csrf: string, body: unknown): Promise<Result<T>> => {
    if (asker.isGone()) return never;
    const request = {
      path,
      csrf,
      session: asker.session(),
      deviceNow: asker.deviceNow(),
      body: JSON.stringify(body),
    };
    // Where nothing comes, the tablet learns it at once or when its patience ends.
    const answer = await Promise.race([
      deliver(request).then((got) => got ?? wait(faults.delay() + 10).then(() => null)),
      wait(patience).then(() => null),
    ]);
    if (asker.isGone()) return never;
    if (answer === null) return { ok: false, trouble: 'away' };
    if (answer.status === 200) return { ok: true, value: answer.body as T };
    const { detail } = answer.body as { detail?: string };
    const trouble = troubleOf(answer.status);
    return detail === undefined ? { ok: false, trouble } : { ok: false, trouble, why: detail };
  };
  return {
    round: (id) => ask<TabletRound>('round', '', id),
    async entries(_roundId, csrf, entries) {
      const sent = await ask<{ entries: EntryAnswer[] }>('entries', csrf, entries);
      return sent.ok ? { ok: true, value: sent.value.entries } : sent;
    },
    photo: async () => ({ ok: true, value: { outcome: 'taken' } }),
  };
}
