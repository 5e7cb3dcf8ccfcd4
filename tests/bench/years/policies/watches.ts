import { suits } from '../farm/befalls.ts';
import type { System } from '../farm/farm.ts';
import { dkh } from '../farm/water.ts';
import { type Code, type Entry, lastOf } from '../hands/book.ts';
import type { Hands } from '../hands/hands.ts';
import { alkalinityTarget, lookDay, tests } from '../hands/routine.ts';
import { isTrueOfLevel, isTrueOfLots } from '../truth.ts';
import type { MakePolicy, Policy } from './policy.ts';

type Limits = Readonly<Record<Code, readonly [low: number, high: number]>>;

/**
 * Limits on single readings as a farm would set them by the usual bands. Of bands of alkalinity from 6.8-10 to 7.2-9.6 dKH,
 * tried on 12 farm-years of the seeds for tuning, all kept as many pieces (27.1 to 27.2 lost).
 */
export const limits: Limits = {
  alkalinity: [7.2 * dkh, 9.6 * dkh],
  calcium: [380, 480],
  nitrate: [0, 20],
  phosphate: [0, 0.2],
  salinity: [33.8, 36.3],
  temperature: [23.7, 27.2],
  ph: [7.7, 8.5],
};

/** Single readings against fixed limits, repeated where they are out, and a look at all lots once a week. */
export const simpleWatches: MakePolicy = (hands, from) => new Watches(hands, from);

class Watches implements Policy {
  readonly told: Policy['told'] = { alerts: 0, wrong: 0, byRule: new Map() };
  readonly #hands: Hands;
  readonly #from: number;
  /** Out of its limits since the last reading within them, by system and quantity. */
  readonly #out = new Set<string>();

  /** Lots that were ill at the last look, by system. */
  readonly #ill = new Map<number, string[]>();

  constructor(hands: Hands, from: number) {
    this.#hands = hands;
    this.#from = from;
  }

  morning(): void {
    const { farm } = this.#hands;
    for (const system of farm.systems) {
      for (const entry of tests(this.#hands, system)) this.#judge(system, entry);
      if (farm.day % 7 === lookDay && farm.day >= this.#from) this.#look(system);
      if (farm.day >= this.#from) this.#goOn(system);
    }
  }

  evening(): void {
    for (const system of this.#hands.farm.systems)
      for (const code of ['temperature', 'salinity'] as const)
        if (this.#out.has(`${system.index} ${code}`)) {
          const entry = this.#hands.test(system, code, true);
          if (entry !== null) this.#judge(system, entry);
        }
  }

  #judge(system: System, entry: Entry): void {
    if (this.#hands.farm.day < this.#from || !this.#isOut(system, entry)) return;
    this.#hands.reason = 'repeats';
    const again = this.#hands.test(system, entry.code, true);
    this.#hands.reason = 'routine';
    if (again !== null && !this.#isOut(system, again)) return;
    const key = `${system.index} ${entry.code}`;
    if (!this.#out.has(key))
      this.#tell(`limit on ${entry.code}`, isTrueOfLevel(this.#hands.farm, system, entry.code));
    this.#out.add(key);
    const urgent = entry.code === 'temperature' || entry.code === 'salinity';
    if (!this.#hands.follows(urgent ? 'now' : 'today', system.index, entry.code)) return;
    this.#hands.reason = `limit on ${entry.code}`;
    this.#react(system, entry);
    this.#hands.reason = 'routine';
  }

  #isOut({ index }: System, { code, value }: Entry): boolean {
    const [low, high] = limits[code];
    const out = value < low || value > high;
    if (!out) this.#out.delete(`${index} ${code}`);
    return out;
  }

  #tell(rule: string, isTrue: boolean): void {
    this.told.alerts += 1;
    if (!isTrue) this.told.wrong += 1;
    const count = this.told.byRule.get(rule) ?? { alerts: 0, wrong: 0 };
    this.told.byRule.set(rule, { alerts: count.alerts + 1, wrong: count.wrong + Number(!isTrue) });
  }

  /** What somebody who knows his trade does about a reading out of its limits. */
  #react(system: System, { code, value }: Entry): void {
    const hands = this.#hands;
    switch (code) {
      case 'alkalinity': {
        const low = value < alkalinityTarget;
        const found = hands.check(system, 'doser');
        if (found?.length === 0) hands.setDose(system, system.doseSet * (low ? 1.1 : 0.9));
        if (!low) hands.hold(system, true);
        break;
      }
      case 'calcium':
        hands.check(system, 'doser');
        break;
      case 'nitrate':
      case 'phosphate':
        hands.check(system, 'food');
        hands.check(system, 'changes');
        hands.skim(system);
        hands.change(system, 0.2, { once: true });
        break;
      case 'salinity':
        hands.check(system, 'top-up', true);
        hands.salt(system, Math.max(-1, Math.min(1, 35 - value)));
        break;
      case 'temperature':
        hands.check(system, 'heater', true);
        hands.check(system, 'pumps', true);
        break;
      case 'ph':
        if (value > 8.3) hands.hold(system, true);
        hands.check(system, 'pumps');
    }
  }

  /** Goes on with what was begun: at most 1 dKH a day up, the doser on again once it is down. */
  #goOn(system: System): void {
    const hands = this.#hands;
    const last = lastOf(hands.bookOf(system), 'alkalinity')?.value ?? alkalinityTarget;
    if (system.doseHeld && last < 9 * dkh) hands.hold(system, false);
    if (!this.#out.has(`${system.index} alkalinity`) || last > alkalinityTarget) return;
    hands.dose(system, Math.min(dkh, alkalinityTarget - last));
    hands.test(system, 'alkalinity');
  }

  #look(system: System): void {
    const hands = this.#hands;
    const ill = hands.look(system);
    hands.bringBack(system);
    const known = this.#ill.get(system.index) ?? [];
    const ids = ill.map(({ lot }) => lot.id);
    this.#ill.set(system.index, ids);
    if (ill.length === 0) return;
    if (ids.some((id) => !known.includes(id))) this.#tell('look', isTrueOfLots(system, ids));
    if (!hands.follows('today', system.index, 'look')) return;
    if (ill.some(({ state }) => state === 'pest')) hands.check(system, 'pests');
    if (ill.some(({ state }) => state === 'paling' || state === 'bleached')) hands.check(system, 'lamps');
    // Flesh that is gone takes months to come back: what stands still is left where it is.
    const losing = ill.filter(
      ({ state, compared }) => state === 'receding' && (compared === null || compared === 'worse'),
    );
    if (losing.length > 0) hands.check(system, 'neighbours');
    for (const one of ill) {
      const { lot } = one;
      if (losing.includes(one)) hands.isolate(system, lot);
      else if (!suits(system, lot)) hands.move(system, lot);
    }
    if (ill.length < 3) return;
    for (const thing of ['doser', 'heater', 'top-up', 'food', 'cuts'] as const) hands.check(system, thing);
  }
}
