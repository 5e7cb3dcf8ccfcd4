import type { EntryAnswer } from '../../../src/browser/round/network.ts';
import type { TabletEntry, TabletRound } from '../../../src/browser/store/types.ts';
import { entryList, entrySchema, keyedEntry } from '../../../src/rounds/entries/entries.schema.ts';
import { tapTime } from '../../../src/rounds/entries/tap-time.rules.ts';

/** One row of a round, as the service keeps it. */
export interface Row {
  id: string;
  kind: string;
  entry: TabletEntry;
  at: Date;
  /** Which commit it was. */
  commit: number;
  /** Of a refused one. */
  mended?: true;
}

/** An answer as it goes over the line. */
export interface Answer {
  status: number;
  body: unknown;
}

export interface Request {
  path: 'round' | 'entries';
  session: string | null;
  csrf: string;
  deviceNow: Date;
  body: string;
}

/** Mistakes that a service could have; each is planted in turn to see that it is found, or borne. */
export interface LedgerMistakes {
  /** Takes what is sent again as new. */
  forgetsKeys?: boolean;
  /** Answers before it has committed. */
  answersEarly?: boolean;
  /** Undoes nothing of what was taken back. */
  forgetsTakenBack?: boolean;
  /** Stops at the first entry that it does not take. */
  stopsAtRefused?: boolean;
}

/** A tap whose note says so is one that the service does not take, or at which it fails. */
export const poison = {
  refused: 'refuse me',
  breaks: 'break',
  stumbles: 'stumble',
  unreadable: 'unreadable',
};

const never = new Promise<never>(() => undefined);

/**
 * The service as a tablet sees it, without a database: sessions, form tokens, the entries of one round each in a
 * transaction of its own under its key. The schema and the rule for times are the service's own. It can be killed at any
 * moment: what is committed stays, and nobody hears of the rest.
 */
export class Ledger {
  readonly rows = new Map<string, Row>();
  /** How often each entry was done, by its key. */
  readonly done = new Map<string, number>();
  readonly #sessions = new Set<string>();
  readonly #stumbledAt = new Set<string>();
  readonly #wait: (ms: number) => Promise<void>;
  readonly #chance: () => number;
  readonly #mistakes: LedgerMistakes;
  readonly #startedAt: Date;
  #commits = 0;
  #life = 0;
  #isUp = true;
  #sessionCount = 0;

  constructor(
    wait: (ms: number) => Promise<void>,
    chance: () => number,
    startedAt: Date,
    mistakes: LedgerMistakes,
  ) {
    this.#wait = wait;
    this.#chance = chance;
    this.#startedAt = startedAt;
    this.#mistakes = mistakes;
  }

  signIn(): string {
    this.#sessionCount += 1;
    const session = `session ${this.#sessionCount}`;
    this.#sessions.add(session);
    return session;
  }

  endSession(session: string): void {
    this.#sessions.delete(session);
  }

  /** Ends at once; up again after a while. */
  async kill(downFor: number): Promise<void> {
    this.#life += 1;
    this.#isUp = false;
    await this.#wait(downFor);
    this.#isUp = true;
  }

  /** Null where nobody answers. */
  async answer(request: Request): Promise<Answer | null> {
    if (!this.#isUp) return this.#chance() < 0.5 ? null : { status: 502, body: {} };
    const life = this.#life;
    await this.#work(life);
    const { session } = request;
    if (session === null || !this.#sessions.has(session)) return { status: 401, body: {} };
    if (request.path === 'round') return { status: 200, body: this.#round(session) };
    if (request.csrf !== `token of ${session}`) return { status: 403, body: {} };
    if (request.body.includes(poison.unreadable)) return { status: 422, body: { detail: 'Unreadable.' } };
    return this.#takeEntries(request, life);
  }

  #round(session: string): TabletRound {
    const refused = [...this.rows.values()].filter(({ kind, mended }) => kind === 'refused' && !mended);
    return {
      id: 'round',
      drawnAt: '',
      person: { id: '', name: '' },
      csrf: `token of ${session}`,
      racks: [],
      refused: refused.map(({ id }) => id),
      off: [],
      pages: {},
    };
  }

  async #takeEntries(request: Request, life: number): Promise<Answer> {
    const list = entryList.parse(JSON.parse(request.body));
    const answers: EntryAnswer[] = [];
    const taking = async () => {
      for (const sent of list) {
        const entry = keyedEntry.parse(sent) as unknown as TabletEntry;
        await this.#work(life);
        if (this.#breaksAt(entry)) return { status: 500, body: {} };
        const answer = this.#takeOne(entry, request.deviceNow);
        answers.push(answer);
        if (this.#mistakes.stopsAtRefused && answer.outcome === 'refused') return { status: 500, body: {} };
      }
      // Between the last commit and the answer.
      await this.#work(life);
      return { status: 200, body: { entries: answers } };
    };
    if (!this.#mistakes.answersEarly) return taking();
    void taking();
    return {
      status: 200,
      body: { entries: list.map((sent) => ({ id: (sent as TabletEntry).id, outcome: 'taken' })) },
    };
  }

  /** Takes its time; never ends where the service is killed meanwhile. */
  async #work(life: number): Promise<void> {
    await this.#wait(1 + this.#chance() * 40);
    if (life !== this.#life) await never;
  }

  #breaksAt({ id, note }: TabletEntry): boolean {
    if (note !== poison.stumbles || this.#stumbledAt.has(id)) return note === poison.breaks;
    this.#stumbledAt.add(id);
    return true;
  }

  /** One transaction. */
  #takeOne(entry: TabletEntry, deviceNow: Date): EntryAnswer {
    const { id } = entry;
    const earlier = this.rows.get(id);
    if (earlier !== undefined && !this.#mistakes.forgetsKeys) {
      if (earlier.kind === 'refused') return { id, outcome: 'refused', why: 'Refused before.', held: true };
      return { id, outcome: 'there' };
    }
    const why = this.#whyNot(entry);
    const tap = { at: new Date(entry.at), deviceNow };
    const { at } = tapTime(tap, { startedAt: this.#startedAt }, new Date());
    this.#commits += 1;
    const kind = why === null ? entry.kind : 'refused';
    this.rows.set(id, { id, kind, entry, at, commit: this.#commits });
    if (why !== null) return { id, outcome: 'refused', why, held: true };
    this.done.set(id, (this.done.get(id) ?? 0) + 1);
    if (entry.kind === 'take_back' && !this.#mistakes.forgetsTakenBack) this.#takeBack(entry, at);
    const mended = this.rows.get(entry.mends ?? '');
    if (mended !== undefined) mended.mended = true;
    return { id, outcome: 'taken' };
  }

  /** What was done is undone; what has not come keeps its place and does nothing when it comes. */
  #takeBack(entry: TabletEntry, at: Date): void {
    const { entryId: id = '' } = entry;
    const earlier = this.rows.get(id);
    this.rows.set(id, { ...(earlier ?? { id, entry, at, commit: this.#commits }), kind: 'taken_back' });
    this.done.set(id, 0);
  }

  #whyNot(entry: TabletEntry): string | null {
    const parsed = entrySchema.safeParse(entry);
    if (!parsed.success) return parsed.error.issues.map(({ message }) => message).join(' ');
    if (entry.note === poison.refused) return 'This lot does not exist.';
    const mended = this.rows.get(entry.mends ?? '');
    return mended !== undefined && mended.kind !== 'refused' ? 'It was taken after all.' : null;
  }
}
