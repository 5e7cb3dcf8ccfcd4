import { quantities } from '../../../../seed/library.ts';
import type { ReadingFact } from '../../../../src/watch/facts/types.ts';
import type { Quantity } from '../../../../src/water/quantities/quantities.ts';
import type { StoredReading } from '../../../../src/water/trust/measured.ts';
import { judgeReading } from '../../../../src/water/trust/trust.rules.ts';
import { dayZero, onDay, reading } from '../../../watch/facts.ts';
import { newWater } from '../farm/water.ts';
import type { Code, Entry, SystemBook } from '../hands/book.ts';
import { errorOf } from '../hands/hands.ts';
import { bands } from '../truth.ts';

const library = new Map(quantities().map((quantity) => [quantity.code, quantity as Quantity]));
/** So far back a reading is judged by those before it, and rules look. */
const [judgedBy, kept] = [30, 220];

/** The readings of one system as the service keeps them: each judged when it is entered, and settled by what follows. */
export class Readings {
  readonly #own: { systemId: string; bottleId: (n: number) => string; book: SystemBook };
  readonly #past = new Map<Code, StoredReading[]>();
  readonly #pending = new Map<Code, StoredReading[]>();
  facts: ReadonlyMap<string, readonly ReadingFact[]> = new Map();

  constructor(systemId: string, bottleId: (n: number) => string, book: SystemBook) {
    this.#own = { systemId, bottleId, book };
  }

  /** Enters a reading; true where it surprises, so that the page asks for a repeat at once. */
  enter({ code, at, value, bottle }: Entry): boolean {
    const { systemId, bottleId, book } = this.#own;
    const uncertainty = errorOf(code, value);
    const kit = book.bottles.find(({ n }) => n === bottle);
    const kitId = bottle === null ? null : bottleId(bottle);
    const fact = reading(at, value, uncertainty, { systemId, kitId, methodId: `hand ${code}` });
    const [past, pending] = [this.#past.get(code) ?? [], this.#pending.get(code) ?? []];
    const measured = {
      ...{ at: onDay(at), value, below: false, uncertainty, kitId, methodId: `hand ${code}` },
      kitOpenedAt: kit === undefined ? null : onDay(kit.at),
    };
    const verdict = judgeReading(measured, {
      quantity: library.get(code) as Quantity,
      band: { low: bands[code][0], high: bands[code][1] },
      past: past.slice(-judgedBy),
      pending,
      later: [],
      expectedChange: this.#expected(code, past.at(-1)),
    });
    const stored: StoredReading = { ...measured, id: fact.id, confirmed: verdict.trust === 'confirmed' };
    const settled = new Map(verdict.settles.map(({ id, trust }) => [id, trust]));
    const freed = pending
      .filter(({ id }) => settled.get(id) === 'confirmed')
      .map((one) => ({ ...one, confirmed: true }));
    const waits = verdict.trust === 'unconfirmed';
    this.#pending.set(code, [...pending.filter(({ id }) => !settled.has(id)), ...(waits ? [stored] : [])]);
    this.#past.set(
      code,
      [...past, ...freed, ...(waits ? [] : [stored])]
        .sort((a, b) => a.at.getTime() - b.at.getTime())
        .slice(-2 * judgedBy),
    );
    this.#keep(code, settled, { ...fact, trust: verdict.trust });
    return waits;
  }

  #keep(code: Code, settled: ReadonlyMap<string, ReadingFact['trust']>, fact: ReadingFact): void {
    const before = (this.facts.get(code) ?? []).flatMap((one) => {
      const trust = settled.get(one.id);
      if (one.day < fact.day - kept || trust === 'refuted') return [];
      return [trust === undefined ? one : { ...one, trust }];
    });
    this.facts = new Map([...this.facts, [code, [...before, fact]]]);
  }

  /** What was logged since the last reading and is not usual: single doses and changes of water. */
  #expected(code: Code, last: StoredReading | undefined): number {
    if (last === undefined) return 0;
    const since = last.at.getTime() / 86_400_000 - dayZero;
    const { doses, changes } = this.#own.book;
    const dosed = doses.reduce((sum, { at, once, rise }) => (once && at > since ? sum + rise : sum), 0);
    const fresh = code === 'temperature' || code === 'ph' ? null : newWater[code];
    const changed =
      fresh === null
        ? 0
        : changes.reduce((sum, { at, part }) => (at > since ? sum + part * (fresh - last.value) : sum), 0);
    return changed + (code === 'alkalinity' ? dosed : code === 'calcium' ? 20 * dosed : 0);
  }
}
