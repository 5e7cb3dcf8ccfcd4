import { hourMs, minuteMs } from '../../../src/science/numeric/time.ts';
import { seededRandom } from '../../../src/science/statistics/random.ts';
import { faultsFound } from './invariants.ts';
import { Ledger, type LedgerMistakes, poison } from './ledger.ts';
import { faultyLine } from './line.ts';
import { SimulatedTablet, type TabletMistakes } from './tablet.ts';
import { VirtualTime } from './virtual-time.ts';

/** What came of one seed. */
export interface Outcome {
  seed: number;
  /** Each thing that was lost, doubled or out of order, in words; none where all is well. */
  faults: string[];
  counted: Counted;
}

export type Counted = Record<
  | 'taps'
  | 'undone'
  | 'cuts'
  | 'lost'
  | 'repeated'
  | 'reloads'
  | 'kills'
  | 'sessions'
  | 'jumps'
  | 'full'
  | 'aside',
  number
>;

type Odd = 'request' | 'answer' | 'repeat' | 'slow' | 'reload' | 'session' | 'poison';

export type Mistakes = LedgerMistakes & TabletMistakes;

const start = new Date('2026-11-24T06:00:00Z');

/**
 * Two tablets on one round, one service, and faults of every kind by chance: requests and answers lost, late, twice and in
 * another order, no network for a while, the service killed at any moment, sessions ended, pages reloaded, storage full,
 * clocks that jump, entries that the service refuses or fails at. Then all is well again, and everything must have
 * arrived. The same seed is the same story.
 */
export async function simulate(seed: number, mistakes: Mistakes = {}): Promise<Outcome> {
  const time = new VirtualTime(start, seededRandom(seed ^ 0x51ed).uniform);
  return time.run(() => new World(seed, time, mistakes).story());
}

class World {
  readonly #seed: number;
  readonly #time: VirtualTime;
  readonly #chance: () => number;
  readonly #odds: Record<Odd, number>;
  readonly #ledger: Ledger;
  readonly #tablets: SimulatedTablet[];
  readonly #counted: Counted = {
    taps: 0,
    undone: 0,
    cuts: 0,
    lost: 0,
    repeated: 0,
    reloads: 0,
    kills: 0,
    sessions: 0,
    jumps: 0,
    full: 0,
    aside: 0,
  };
  #isCalm = false;
  #isCut = false;
  #isFull = false;
  #hasJumped = false;
  #ids = 0;

  constructor(seed: number, time: VirtualTime, mistakes: Mistakes) {
    this.#seed = seed;
    this.#time = time;
    this.#chance = seededRandom(seed).uniform;
    // Each story has faults of its own: none of some kind, many of another.
    const odd = (most: number) => (this.#chance() < 0.35 ? 0 : this.#chance() * most);
    this.#odds = {
      request: odd(0.4),
      answer: odd(0.4),
      repeat: odd(0.4),
      slow: odd(0.5),
      reload: odd(0.3),
      session: odd(0.15),
      poison: odd(0.3),
    };
    this.#ledger = new Ledger((ms) => time.wait(ms), this.#chance, start, mistakes);
    this.#tablets = [0, 1].map(() => this.#newTablet(mistakes));
  }

  #happens(kind: Odd, counts: keyof Counted): boolean {
    const does = !this.#isCalm && this.#chance() < this.#odds[kind];
    if (does) this.#counted[counts] += 1;
    return does;
  }

  #newTablet(mistakes: Mistakes): SimulatedTablet {
    const wait = (ms: number) => this.#time.wait(ms);
    const line = {
      isCut: () => this.#isCut,
      losesRequest: () => this.#happens('request', 'lost'),
      losesAnswer: () => this.#happens('answer', 'lost'),
      delay: () => 5 + this.#chance() * (this.#chance() < this.#odds.slow && !this.#isCalm ? 40_000 : 400),
      repeat: () => (this.#happens('repeat', 'repeated') ? this.#chance() * 2 * minuteMs : null),
    };
    return new SimulatedTablet({
      wait,
      newId: () => this.#newId(),
      disk: { delay: () => 1 + this.#chance() * 60, isFull: () => this.#isFull, wait },
      network: (asker) => faultyLine(this.#ledger, line, asker, wait),
      signIn: () => this.#ledger.signIn(),
      now: () => this.#time.now,
      mistakes,
    });
  }

  #newId(): string {
    this.#ids += 1;
    return `00000000-0000-7000-8000-${this.#ids.toString(16).padStart(12, '0')}`;
  }

  async story(): Promise<Outcome> {
    const spells = this.#spells();
    await Promise.all(this.#tablets.map((tablet) => this.#walk(tablet)));
    this.#isCalm = true;
    await spells;
    await this.#comeToRest();
    for (const tablet of this.#tablets) tablet.stop();
    this.#counted.aside = this.#tablets.flatMap(({ tapped }) =>
      [...tapped.values()].filter(({ wasAside }) => wasAside),
    ).length;
    const faults = await faultsFound(this.#ledger, this.#tablets, !this.#hasJumped);
    return { seed: this.#seed, faults, counted: this.#counted };
  }

  async #walk(tablet: SimulatedTablet): Promise<void> {
    const taps = 4 + Math.floor(this.#chance() * 12);
    for (let i = 0; i < taps; i++) {
      this.#counted.taps += 1;
      const note = this.#note(i);
      if (this.#chance() < 0.4)
        await tablet.noteLot([note, `${note}, seen again`].slice(0, note in kinds ? 1 : 2));
      else await tablet.tap({ note });
      if (this.#chance() < 0.12) {
        this.#counted.undone += 1;
        await tablet.takeBackLast();
      }
      await this.#time.wait(this.#chance() ** 3 * minuteMs);
      if (this.#happens('session', 'sessions')) this.#ledger.endSession(tablet.session ?? '');
      if (this.#happens('reload', 'reloads')) tablet.reload();
      if (this.#chance() < 0.15) await tablet.lookAfter(this.#chance);
    }
  }

  #note(i: number): string {
    if (this.#chance() >= this.#odds.poison) return `look ${i}`;
    const list = Object.keys(kinds);
    return list[Math.floor(this.#chance() * list.length)] as string;
  }

  /** What goes on around: no network, no room, a service that is killed, a clock that jumps; pages that go at any moment. */
  async #spells(): Promise<void> {
    const spell = async (most: number, act: (length: number) => Promise<void>) => {
      for (let n = Math.floor(this.#chance() * (most + 1)); n > 0 && !this.#isCalm; n--) {
        await this.#time.wait(this.#chance() * 3 * minuteMs);
        if (!this.#isCalm) await act(this.#chance() ** 2 * 3 * minuteMs);
      }
    };
    await Promise.all([
      spell(2, async (length) => {
        this.#counted.cuts += 1;
        this.#isCut = true;
        await this.#time.wait(length);
        this.#isCut = false;
      }),
      spell(1, async (length) => {
        this.#counted.full += 1;
        this.#isFull = true;
        await this.#time.wait(length);
        this.#isFull = false;
      }),
      spell(3, async (length) => {
        this.#counted.kills += 1;
        await this.#ledger.kill(length / 4);
      }),
      spell(1, async (length) => {
        this.#counted.jumps += 1;
        this.#hasJumped = true;
        const tablet = this.#tablets[0] as SimulatedTablet;
        tablet.clockAhead = (this.#chance() - 0.5) * 96 * hourMs;
        await this.#time.wait(length);
        tablet.clockAhead = 0;
      }),
      spell(4, async () => {
        this.#counted.reloads += 1;
        this.#tablets[this.#chance() < 0.5 ? 0 : 1]?.reload();
      }),
    ]);
  }

  /** All is well again: within some hours everything is settled, or it never is. */
  async #comeToRest(): Promise<void> {
    for (let tries = 0; tries < 200; tries++) {
      await this.#time.wait(20_000);
      for (const tablet of this.#tablets) await tablet.lookAfter(this.#chance);
      const settled = await Promise.all(this.#tablets.map((tablet) => tablet.isSettled()));
      if (settled.every(Boolean)) return;
    }
  }
}

const kinds = Object.fromEntries(Object.values(poison).map((note) => [note, true]));
