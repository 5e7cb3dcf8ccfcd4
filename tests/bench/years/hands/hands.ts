import { lotOf, moveLot, suits } from '../farm/befalls.ts';
import { changeWater, check, type Farm, lampsGive, type System, timeOf, troublesOn } from '../farm/farm.ts';
import { healthOf, type Lot, signOf } from '../farm/stock.ts';
import type { Thing, Trouble } from '../farm/troubles.ts';
import { calciumPerMeq, dkh } from '../farm/water.ts';
import type { Book, Code, Entry, Look, SystemBook } from './book.ts';

/** Minutes of each deed (own assumptions). */
const minutes = {
  test: { alkalinity: 4, calcium: 5, nitrate: 5, phosphate: 6, salinity: 2, temperature: 0.5, ph: 1.5 },
  look: 12,
  lookAt: 2,
  check: {
    ...{ doser: 12, heater: 8, pumps: 3, 'top-up': 6, lamps: 12, kit: 9, food: 3, changes: 3 },
    ...{ neighbours: 10, pests: 70, cuts: 20, places: 10, dose: 3 },
  } satisfies Record<Thing, number>,
  container: 2,
  change: 25,
  dose: 6,
  setting: 4,
  move: 8,
  apart: 15,
  air: 5,
} as const;

/** The part of the water that everybody changes each week. */
export const weeklyChange = 0.125;
/** The part for which a change beside it takes its minutes. */
const oncePart = 0.2;

/** Standard errors of tests, and how often one slips, by how much. */
const errors: Readonly<Record<Code, { sd: number; relative?: true; slip: number; slips: number }>> = {
  alkalinity: { sd: 0.12 * dkh, slip: 1 * dkh, slips: 0.012 },
  calcium: { sd: 9, slip: 60, slips: 0.01 },
  nitrate: { sd: 0.1, relative: true, slip: 0.6, slips: 0.015 },
  phosphate: { sd: 0.012, slip: 0.08, slips: 0.015 },
  salinity: { sd: 0.25, slip: 1.5, slips: 0.01 },
  temperature: { sd: 0.15, slip: 1.2, slips: 0.003 },
  ph: { sd: 0.04, slip: 0.3, slips: 0.005 },
};

/** Standard uncertainty of a test, as a farm states it. */
export const errorOf = (code: Code, value: number): number =>
  errors[code].sd * (errors[code].relative ? Math.max(1, value) : 1);

/** How well an edge of flesh and a colour are seen, as parts of the whole, and from which change on it is told (own assumptions). */
const [eye, tellsFrom] = [0.03, 0.08];

/** A lot that was not well, as it was seen. */
interface Seen {
  lot: Lot;
  state: string;
  grade: number;
  compared: Look['compared'];
}

/** Minutes a day beside feeding and cleaning, for all systems; what cannot wait goes on for another hour. */
const [weekdayMinutes, weekendMinutes, overtime] = [100, 40, 60];
const absent = 0.06;

/** Hands otherwise than usual, as parts of what is usual: errors of tests, days on which nobody comes, advice that is not followed. */
export interface Rougher {
  tests: number;
  absent: number;
  ignored: number;
  /** How often troubles come. */
  troubles: number;
  /** How often new bottles and cuts are written down. */
  noted: number;
}
const usualHands: Rougher = { tests: 1, absent: 1, ignored: 1, troubles: 1, noted: 1 };
/** Farms by name; on those that are not usual nothing was tuned: own choices, made after the rules. */
export const farms = {
  usual: usualHands,
  rougher: { ...usualHands, tests: 1.6, absent: 2, ignored: 1.5, troubles: 1.4 },
  'left alone': { ...usualHands, tests: 1.3, absent: 3, ignored: 2, noted: 0.5 },
} as const satisfies Record<string, Rougher>;
export type FarmName = keyof typeof farms;

/** The people of the farm: the same ones, with the same time and the same errors, whoever advises them. */
export class Hands {
  readonly farm: Farm;
  readonly book: Book;
  /** All minutes worked on watching and setting right. */
  worked = 0;
  /** The same by what it was for: the usual routine, or the rule of an alert, and by deed. */
  readonly spent = new Map<string, number>();
  /** What is worked for at present. */
  reason = 'routine';
  #left = 0;
  readonly #tests = new Map<string, number>();

  readonly #rough: Rougher;

  constructor(farm: Farm, book: Book, rough: Rougher = usualHands) {
    this.farm = farm;
    this.book = book;
    this.#rough = rough;
  }

  /** How far into the hour it is, as a part of a day: what is looked at, checked or turned for an alert is so after it was told. */
  into = 0;

  /** When it is now. */
  get now(): number {
    return timeOf(this.farm) + this.into;
  }

  /** Counts work from now on. */
  begin(): void {
    this.worked = 0;
    this.spent.clear();
  }

  /** Begins a day; false where nobody comes. */
  arrive(): boolean {
    const { day, chance } = this.farm;
    this.#tests.clear();
    if (chance.happens(absent * this.#rough.absent, 'absent', day)) this.#left = 0;
    else this.#left = day % 7 >= 5 ? weekendMinutes : weekdayMinutes;
    this.missedYesterday = !this.#here;
    this.#here = this.#left > 0;
    return this.#here;
  }

  #here = true;
  /** Nobody came yesterday: what was due then is due today. */
  missedYesterday = false;

  /** Whether somebody came today. */
  get here(): boolean {
    return this.#here;
  }

  #spend(deed: string, needed: number, urgent: boolean): boolean {
    if (this.#left + (urgent ? overtime : 0) < needed) return false;
    this.#left -= needed;
    this.worked += needed;
    const key = `${this.reason}: ${deed}`;
    this.spent.set(key, (this.spent.get(key) ?? 0) + needed);
    return true;
  }

  /** Whether somebody does now what he was told: most of what is urgent, less of what is only watched (own assumptions). */
  follows(urgency: 'now' | 'today' | 'watch', ...what: readonly (string | number)[]): boolean {
    const likely = { now: 0.92, today: 0.75, watch: 0.3 }[urgency];
    const follows = 1 - this.#rough.ignored * (1 - likely);
    return this.farm.chance.happens(Math.max(0.05, follows), 'follows', urgency, this.farm.day, ...what);
  }

  /** Whether something that is usually written down so often was, on this farm. */
  notes(usually: number, ...what: readonly (string | number)[]): boolean {
    return this.farm.chance.happens(usually * this.#rough.noted, ...what);
  }

  bookOf({ index }: System): SystemBook {
    return this.book.systems[index] as SystemBook;
  }

  /** One test with its error; null where no time is left. */
  test(system: System, code: Code, urgent = false): Entry | null {
    if (!this.#spend(`test ${code}`, minutes.test[code], urgent)) return null;
    const { farm } = this;
    const key = `${system.index} ${code}`;
    const n = (this.#tests.get(key) ?? 0) + 1;
    this.#tests.set(key, n);
    const what = [code, system.index, farm.day, n] as const;
    const { sd, slip, slips, relative } = errors[code];
    const bias = code === 'alkalinity' ? system.bottle.bias : 0;
    const truth = system.water[code] * (1 + bias);
    const off =
      this.#rough.tests * sd * farm.chance.normal('test', ...what) +
      (farm.chance.happens(slips, 'slip', ...what) ? slip * farm.chance.normal('slips by', ...what) : 0);
    const value = Math.max(0.001, relative ? truth * Math.exp(off) : truth + off);
    const entry = {
      code,
      at: timeOf(farm),
      value,
      bottle: code === 'alkalinity' ? this.#bottle(system) : null,
    };
    this.bookOf(system).readings.push(entry);
    return entry;
  }

  /** The bottle as it is known: of one in five nobody says that it was opened. */
  #bottle(system: System): number {
    const { bottles } = this.bookOf(system);
    const { n } = system.bottle;
    const known = bottles.at(-1)?.n ?? 0;
    if (known === n || !this.notes(0.8, 'told', system.index, n)) return known;
    bottles.push({ n, at: this.now, checks: [], putAwayAt: null });
    return n;
  }

  /** Tests of a standard, or of one sample beside another kit: of one that reads wrong another is opened. */
  checkKit(system: System, urgent = false, tests: 2 | 3 = 2): void {
    if (!this.#spend('check kit', (minutes.check.kit * tests) / 2, urgent)) return;
    const { farm } = this;
    const standard = 8 * dkh;
    const bottle = this.bookOf(system).bottles.at(-1);
    for (let n = 1; n <= tests; n++) {
      const off = errors.alkalinity.sd * farm.chance.normal('standard', system.index, farm.day, n);
      bottle?.checks.push({ at: this.now + n / 2000, value: standard * (1 + system.bottle.bias) + off });
    }
    const mean = (bottle?.checks.slice(-tests) ?? []).reduce((sum, { value }) => sum + value, 0) / tests;
    this.bookOf(system).checked.push({
      at: this.now,
      thing: 'kit',
      found: Math.abs(mean / standard - 1) > 0.06,
    });
    if (Math.abs(mean / standard - 1) > 0.06) this.openKit(system);
  }

  /** Puts the bottle away and opens another. */
  openKit(system: System): void {
    const was = this.bookOf(system).bottles.at(-1);
    if (was !== undefined) was.putAwayAt = this.now;
    for (const one of check(this.farm, system, 'kit', 1)) void one;
    const n = system.bottle.n;
    if (this.bookOf(system).bottles.at(-1)?.n !== n)
      this.bookOf(system).bottles.push({ n, at: this.now, checks: [], putAwayAt: null });
  }

  /** Looks at all lots, or at these; what is only a little pale is passed over by two in five. */
  look(system: System, { urgent = false, only }: { urgent?: boolean; only?: readonly Lot[] } = {}): Seen[] {
    const needed = only === undefined ? minutes.look : Math.min(minutes.look, minutes.lookAt * only.length);
    if (!this.#spend('look', needed, urgent)) return [];
    return (only ?? system.lots).flatMap((lot) => {
      const seen = lot.pieces.some(({ alive }) => alive) ? this.#see(system, lot) : null;
      return seen === null ? [] : [seen];
    });
  }

  /** One lot, noted as it was seen; null where it was seen well. */
  #see(system: System, lot: Lot): Seen | null {
    const { chance, day } = this.farm;
    const sign = signOf(lot);
    const isSeen =
      sign.state === 'well' || chance.happens(sign.grade === 1 ? 0.6 : 0.95, 'seen', lot.id, day);
    const state = isSeen ? sign.state : 'well';
    const grade = state === 'well' ? 1 : sign.grade;
    const pest = lot.ills.pest > 0.25 && chance.happens(0.5, 'pest seen', lot.id, day);
    const { looks, pests } = this.bookOf(system);
    const compared = this.#compare(lot, state);
    looks.push({ at: this.now, lot: lot.id, state, grade, compared });
    if (pest && !pests.some(({ endedAt }) => endedAt === null))
      pests.push({ at: this.now, lot: lot.id, endedAt: null });
    return state === 'well' && !pest ? null : { lot, state: pest ? 'pest' : state, grade, compared };
  }

  /** Against the look before, where it was not well then and is not now: flesh and colour, each as well as the eye has them. */
  #compare(lot: Lot, state: Look['state']): Look['compared'] {
    const { chance, day } = this.farm;
    const off = (of: string) => eye * chance.normal('compared', of, lot.id, day);
    const { flesh, colour } = healthOf(lot);
    const now = { flesh: flesh + off('flesh'), colour: colour + off('colour') };
    const before = this.#lastSeen.get(lot.id);
    if (state === 'well') this.#lastSeen.delete(lot.id);
    else this.#lastSeen.set(lot.id, now);
    if (before === undefined || state === 'well') return null;
    const gone = Math.max(before.flesh - now.flesh, before.colour - now.colour);
    if (gone > tellsFrom) return 'worse';
    return before.flesh + before.colour - now.flesh - now.colour < -tellsFrom ? 'better' : 'as_before';
  }

  readonly #lastSeen = new Map<string, { flesh: number; colour: number }>();

  /** Checks a thing, and mends what is found there; null where no time is left. */
  check(system: System, thing: Exclude<Thing, 'kit'>, urgent = false): Trouble[] | null {
    if (!this.#spend(`check ${thing}`, minutes.check[thing], urgent)) return null;
    const found = check(this.farm, system, thing);
    const at = this.now;
    const { checked, off, pests, surveys, lamps } = this.bookOf(system);
    checked.push({ at, thing, found: found.length > 0 });
    if (thing === 'pumps') for (const one of off) one.backAt ??= at;
    if (thing === 'pests') for (const one of pests) one.endedAt ??= at;
    if (thing === 'lamps')
      for (const [rack, { percent }] of system.racks.entries()) {
        const said = lamps.findLast((one) => one.rack === rack)?.percent ?? percent;
        if (said !== percent) lamps.push({ at, rack, percent });
        surveys.push({ at, rack, part: (lampsGive(this.farm, system, rack) * percent) / 70, percent });
      }
    return found;
  }

  /** Reads the mark on the dosing container and writes it down; nothing is mended by that. */
  noteContainer(): boolean {
    return this.#spend('note container', minutes.container, false);
  }

  /** Puts new water in place of a part. `once`: beside the habit. */
  change(
    system: System,
    part: number,
    { once, urgent = false }: { once: boolean; urgent?: boolean },
  ): boolean {
    // The weekly change is part of the farm's other work; what is changed beyond it is not.
    const beyond = once ? minutes.change : (minutes.change * Math.max(0, part - weeklyChange)) / oncePart;
    if (beyond > 0 && !this.#spend('change', beyond, urgent)) return false;
    changeWater(system, part);
    this.bookOf(system).changes.push({ at: timeOf(this.farm), part, once });
    return true;
  }

  /** Raises alkalinity once, and calcium as goes with it. */
  dose(system: System, rise: number, urgent = false): boolean {
    if (!this.#spend('dose', minutes.dose, urgent)) return false;
    system.water.alkalinity += rise;
    system.water.calcium += rise * calciumPerMeq;
    this.bookOf(system).doses.push({ at: timeOf(this.farm), rise, once: true });
    this.farm.said(`${system.name}: ${(rise / dkh).toFixed(2)} dKH are added`);
    return true;
  }

  /** Raises or lowers the salinity by so much, with strong brine or with fresh water. */
  salt(system: System, by: number, urgent = false): boolean {
    if (!this.#spend('dose', minutes.dose, urgent)) return false;
    system.water.salinity += by;
    this.farm.said(`${system.name}: salinity moved by ${by.toFixed(1)}`);
    return true;
  }

  /** Sets the doser, meq/L a day. */
  setDose(system: System, to: number, urgent = false): boolean {
    if (!this.#spend('setting', minutes.setting, urgent)) return false;
    this.farm.said(
      `${system.name}: doser set from ${(system.doseSet / dkh).toFixed(2)} to ${(to / dkh).toFixed(2)} dKH a day`,
    );
    system.doseSet = Math.max(0, to);
    system.doseHeld = false;
    this.bookOf(system).checked.push({ at: this.now, thing: 'dose set', found: true });
    check(this.farm, system, 'dose', 1);
    return true;
  }

  /** Holds the doser, or lets it run again. */
  hold(system: System, held: boolean, urgent = false): boolean {
    if (system.doseHeld === held) return true;
    if (!this.#spend('setting', minutes.setting, urgent)) return false;
    system.doseHeld = held;
    this.farm.said(`${system.name}: doser ${held ? 'held' : 'runs again'}`);
    return true;
  }

  /** Moves a lot to the rack of its kind; false where it stands there, or no time is left. */
  move(system: System, lot: Lot): boolean {
    if (suits(system, lot) || !this.#spend('move', minutes.move, false)) return false;
    moveLot(this.farm, system, lot, lot.rack === 0 ? 1 : 0);
    this.bookOf(system).moves.push({ at: this.now, lot: lot.id });
    for (const one of troublesOn(this.farm, system.index, ['wrong move']))
      if (lotOf(system, one) === lot) check(this.farm, system, 'places', 1);
    this.farm.said(`${system.name}: lot ${lot.name} is moved to its own light`);
    return true;
  }

  /** Takes a lot into water of its own, with tools of its own. */
  isolate(system: System, lot: Lot): boolean {
    if (lot.apartSince !== null || !this.#spend('apart', minutes.apart, true)) return false;
    lot.apartSince = this.farm.day;
    this.farm.said(`${system.name}: lot ${lot.name} is set apart`);
    return true;
  }

  /** Back into the system once it is well. */
  bringBack(system: System): void {
    for (const lot of system.lots) {
      if (lot.apartSince === null || this.farm.day - lot.apartSince < 21 || lot.ills.rot > 0.05) continue;
      if (this.#spend('apart', minutes.apart, false)) lot.apartSince = null;
    }
  }

  /** Blows air in by a pump of its own for a day. */
  air(system: System): void {
    if (this.#spend('air', minutes.air, true)) system.airedUntil = timeOf(this.farm) + 1;
  }

  /** Turns the lamps of a rack. */
  turnLamps(system: System, rack: 0 | 1, percent: number): void {
    if (!this.#spend('setting', minutes.setting, false)) return;
    system.racks[rack].percent = percent;
    this.bookOf(system).lamps.push({ at: this.now, rack, percent });
  }

  /** Skims wetter and takes detritus out. */
  skim(system: System): void {
    if (system.skimming === 0 && this.#spend('setting', minutes.setting, false)) system.skimming = 0.12;
  }

  /** Feeds less, or as usual. */
  feed(system: System, part: number): void {
    system.food = part;
  }
}
