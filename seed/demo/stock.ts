import { dayMs } from '../../src/science/numeric/time.ts';
import type { Random } from '../../src/science/statistics/random.ts';
import type { Block, Farm } from './farm.ts';
import { sizeOn, uptakeMeq } from './growth.ts';
import { noteOpinions } from './opinions.ts';
import { BURNING_SAW } from './planted.ts';
import type { DemoTables } from './rows.ts';
import { type LiveLot, StockBook, slotsFor } from './stock-book.ts';
import { DAYS, type World } from './world.ts';

/** The stock at the end, and what it took up: alkalinity in meq a day, by system and day. */
export interface StockHistory {
  lots: LiveLot[];
  uptake: number[][];
}

/** Nothing is cut, moved or lost in the last weeks, so that what the lamps did stands alone. */
const QUIET_DAYS = 16;
/** Pieces are sold when their cut has been healed for this long. */
const SALE_AGE = 75;
const CUT_EVERY = 56;
const METHODS = ['Band saw', 'Wet diamond saw', 'Bone cutter', 'Scalpel'];
/** Which saw: one of the two band saws burns the edge of what it cuts. */
const SAWS = ['New band saw', BURNING_SAW];
/** A wound is looked at on these days after a cut, a little before the looks are due. */
const LOOKS = [6, 29, 88];
/** Share of the pieces found dead at each look: of the saw that burns, and of all others. */
const DEAD = { burnt: [0.3, 0.25, 0.05], clean: [0.02, 0.02, 0.01] };
/** Days from one measuring of the lots to the next. */
const MEASURED_EVERY = 28;

/** Runs the stock's half year: taken in, cut, split, moved, lost and sold, day by day. */
export function stockHistory(world: World, farm: Farm, rows: DemoTables): StockHistory {
  const book = new StockBook(world, farm, rows);
  const year = new StockYear(world, farm, book);
  const uptake: number[][] = farm.systems.map(() => []);
  for (let day = 0; day <= DAYS; day++) {
    if (day === 0) year.begin();
    else year.live(day);
    farm.systems.forEach((system, index) => {
      const racks = new Set(system.tanks.flatMap((tank) => tank.racks));
      const here = book.lots.filter((lot) => racks.has(lot.block.rack));
      uptake[index]?.push(here.reduce((sum, lot) => sum + uptakeMeq(lot, day), 0));
    });
  }
  for (const row of rows.lot) {
    const lot = book.lots.find(({ id }) => id === row.id);
    if (lot) row.sizeMm = Math.round(sizeOn(lot, DAYS));
  }
  book.leaveEmptySlots();
  noteOpinions(world, farm, book.lots, rows);
  return { lots: book.lots, uptake };
}

class StockYear {
  readonly #world: World;
  readonly #book: StockBook;
  readonly #blocks: Block[];
  readonly #random: Random;
  /** Of wounds and sizes: apart, so that they change nothing else of the year. */
  readonly #wounds: Random;
  readonly #cuts: { id: string; lot: LiveLot; burnt: boolean }[] = [];

  constructor(world: World, farm: Farm, book: StockBook) {
    this.#world = world;
    this.#book = book;
    this.#blocks = farm.systems.flatMap((s) => s.tanks.flatMap((t) => t.racks.flatMap((r) => r.blocks)));
    this.#random = world.random('stock');
    this.#wounds = world.random('wounds');
  }

  /** The stock that was there when the records began: in each block a mother and a few grown lots. */
  begin(): void {
    for (const block of this.#blocks) {
      this.#takeOver(block, { pieces: 1, sizeMm: 95 + this.#random.below(40), isMother: true, age: 300 });
      const more = block.slots.length > 40 ? 4 : 2;
      for (let i = 0; i < more; i++) {
        this.#takeOver(block, {
          pieces: 3 + this.#random.below(6),
          sizeMm: 28 + this.#random.below(18),
          isMother: false,
          age: 40,
        });
      }
    }
  }

  /** One day in the order of its hours, so that nothing is lost before it is cut. */
  live(day: number): void {
    const quiet = day > DAYS - QUIET_DAYS;
    if (!quiet) {
      this.#lose(day);
      if (day === 70) this.#split(day);
      if (day === 96) this.#merge(day);
      if (day === 110) this.#recount(day);
      if (this.#random.uniform() < 0.4) this.#move(day);
      this.#renew(day);
    }
    this.#lookAfterCuts(day, quiet);
    if (day % MEASURED_EVERY === 3) this.#measure(day);
    if ([2, 5].includes(this.#world.weekday(day)) && day < DAYS) this.#sell(day);
  }

  #renew(day: number): void {
    this.#blocks.forEach((block, index) => {
      if ((day + index * 7) % CUT_EVERY === 0) this.#cut(block, day, index);
    });
    this.#blocks.forEach((block, index) => {
      if (day < 120 && (day + index * 11) % 140 === 0) this.#arrive(block, day);
    });
  }

  #at(day: number, hour: number): Date {
    return this.#world.at(day, hour + this.#random.below(58) / 60 + this.#random.below(60) / 3600);
  }

  #takeOver(
    block: Block,
    { pieces, sizeMm, isMother, age }: { pieces: number; sizeMm: number; isMother: boolean; age: number },
  ): void {
    const at = this.#at(0, 7);
    const arrivedAt = new Date(at.getTime() - (age + this.#random.below(2 * age)) * dayMs);
    const origin = isMother ? 'Bought in as a colony; invoice on file' : 'Cut here before the records began';
    const permit = isMother ? 'Papers on file' : '';
    this.#book.receive({ block, at, day: 0, pieces, sizeMm, arrivedAt, isMother, origin, permit });
  }

  #arrive(block: Block, day: number): void {
    const pieces = 2 + this.#random.below(3);
    if (this.#book.free(block).length < slotsFor(pieces)) return;
    const at = this.#at(day, 15);
    const origin = 'Received from a grower nearby; papers on file';
    const sizeMm = 30 + this.#random.below(15);
    this.#book.receive({ block, at, day, pieces, sizeMm, arrivedAt: at, origin, permit: 'Papers on file' });
  }

  #cut(block: Block, day: number, index: number): void {
    const pieces = 3 + this.#random.below(5);
    if (this.#book.free(block).length < slotsFor(pieces)) return;
    const here = this.#alive(block);
    const mother = here.find(({ isMother }) => isMother);
    const grown = here.find((lot) => !lot.isMother && lot.pieces >= 4 && sizeOn(lot, day) > 40);
    const from = this.#random.uniform() < 0.7 ? mother : (grown ?? mother);
    if (!from) return;
    const at = this.#at(day, 13);
    const method = METHODS[(index + this.#random.below(2)) % METHODS.length] ?? '';
    const sizeMm = 18 + this.#random.below(8);
    const tool = method === 'Band saw' ? (SAWS[this.#wounds.below(2)] ?? '') : '';
    const how = { method, tool, minutesOut: 3 + this.#wounds.below(6), whole: from === grown };
    const made = this.#book.cut(from, { at, day, pieces, sizeMm, arrivedAt: at }, how);
    this.#cuts.push({ id: made.cutId, lot: made.lot, burnt: tool === BURNING_SAW });
  }

  #lookAfterCuts(day: number, quiet: boolean): void {
    for (const { id, lot, burnt } of this.#cuts) {
      const which = LOOKS.indexOf(day - lot.day);
      if (which < 0 || lot.pieces === 0) continue;
      const chance = quiet ? 0 : ((burnt ? DEAD.burnt : DEAD.clean)[which] ?? 0);
      const draws = Array.from({ length: lot.pieces }, () => this.#wounds.uniform());
      const dead = draws.filter((draw) => draw < chance).length;
      const healed = which === 0 ? 0 : Math.round((lot.pieces - dead) * (which === 1 ? 0.6 : 1));
      this.#book.lookAfterCut(id, lot, this.#world.at(day, 10.4), { dead, healed });
    }
  }

  #measure(day: number): void {
    for (const lot of this.#book.lots) {
      if (lot.isMother || lot.pieces === 0) continue;
      const sizes = Array.from({ length: Math.min(3, lot.pieces) }, () =>
        Math.max(5, Math.round(10 * (sizeOn(lot, day) + 1.2 * this.#wounds.normal())) / 10),
      );
      this.#book.measure(lot, this.#world.at(day, 14.2), sizes);
    }
  }

  #lose(day: number): void {
    for (const lot of this.#book.lots) {
      const fresh = lot.sizeMm < 27 && day - lot.day < 21;
      const chance =
        lot.isMother || lot.pieces < 2 || lot.block.rack.plan.bright ? 0 : fresh ? 0.009 : 0.0006;
      if (this.#random.uniform() >= chance) continue;
      this.#book.note(lot, this.#at(day, 9), -1, 'lost', fresh ? 'Did not heal' : 'Loose, found on its side');
    }
  }

  #sell(day: number): void {
    for (const lot of this.#book.lots) {
      const old = !lot.isMother && lot.pieces > 0 && (lot.day === 0 || day - lot.day > SALE_AGE);
      if (!old || lot.block.rack.plan.bright || this.#random.uniform() > 0.05) continue;
      const pieces = Math.min(lot.pieces, 1 + this.#random.below(2));
      this.#book.note(lot, this.#at(day, 16), -pieces, 'sold', 'At the counter');
    }
  }

  #move(day: number): void {
    const movable = this.#book.lots.filter((lot) => lot.pieces > 0 && !lot.block.rack.plan.bright);
    const lot = movable[this.#random.below(movable.length)];
    if (!lot || lot.day >= day) return;
    const free = this.#book.free(lot.block);
    if (free.length < lot.slots.length) return;
    this.#book.move(lot, free.slice(-lot.slots.length), this.#at(day, 11), 'Room for new cuts');
  }

  #split(day: number): void {
    const lot = this.#settled(day).find(
      ({ pieces, block }) => pieces >= 6 && this.#book.free(block).length > 2,
    );
    if (lot) this.#book.split(lot, this.#at(day, 10), day, 2);
  }

  #merge(day: number): void {
    const [into] = this.#settled(day).filter((lot) =>
      this.#settled(day).some((other) => other !== lot && other.block === lot.block),
    );
    const from = this.#settled(day).find((lot) => lot !== into && lot.block === into?.block);
    if (into && from) this.#book.merge(from, into, this.#at(day, 10));
  }

  #recount(day: number): void {
    const lot = this.#settled(day).find(({ pieces }) => pieces >= 3);
    if (lot) this.#book.note(lot, this.#at(day, 10), -1, 'recount', 'One fewer than in the book');
  }

  #settled(day: number): LiveLot[] {
    return this.#book.lots.filter(
      (lot) => !lot.isMother && lot.pieces > 0 && lot.day < day - 10 && !lot.block.rack.plan.bright,
    );
  }

  #alive(block: Block): LiveLot[] {
    return this.#book.lots.filter((lot) => lot.block === block && lot.pieces > 0);
  }
}
