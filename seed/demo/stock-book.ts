import type { Random } from '../../src/science/statistics/random.ts';
import { makeCode } from '../../src/stock/base/codes.ts';
import { cellWords } from '../../src/stock/places/slots.ts';
import { type LibraryKind, libraryKinds } from '../library.ts';
import type { Block, Farm, FarmSlot } from './farm.ts';
import type { DemoTables } from './rows.ts';
import type { World } from './world.ts';

type LedgerReason = DemoTables['ledgerEntry'][number]['reason'];

/** A lot while the history runs: where it stands, how many pieces it has, and how large they were on `day`. */
export interface LiveLot {
  id: string;
  code: string;
  kind: LibraryKind;
  block: Block;
  isMother: boolean;
  day: number;
  sizeMm: number;
  pieces: number;
  slots: FarmSlot[];
  placement: DemoTables['placement'][number] | null;
}

/** What a new lot is. */
export interface NewLot {
  block: Block;
  at: Date;
  day: number;
  pieces: number;
  sizeMm: number;
  arrivedAt: Date;
  isMother?: boolean;
  parent?: LiveLot;
  origin: string;
  permit?: string;
}

/** Keeps the farm's stock as its people would write it down: lots, ledger, cuts, placements. */
export class StockBook {
  readonly lots: LiveLot[] = [];
  readonly #world: World;
  readonly #farm: Farm;
  readonly #rows: DemoTables;
  readonly #random: Random;
  readonly #codes = new Set<string>();
  readonly #taken = new Set<string>();
  readonly #changedAt = new Map<string, Date>();
  readonly #kinds = new Map(libraryKinds().map((kind) => [kind.code, kind]));

  constructor(world: World, farm: Farm, rows: DemoTables) {
    this.#world = world;
    this.#farm = farm;
    this.#rows = rows;
    this.#random = world.random('lot codes');
  }

  /** Free slots of a block, in reading order. */
  free(block: Block): FarmSlot[] {
    return block.slots.filter(({ id }) => !this.#taken.has(id));
  }

  /** A lot that came in whole. */
  receive(lot: NewLot): LiveLot {
    const live = this.#open(lot);
    this.note(live, lot.at, lot.pieces, 'received');
    return live;
  }

  /** Cuts pieces off a lot into a new one; `whole` when a whole piece of it was cut up. */
  cut(
    from: LiveLot,
    lot: Omit<NewLot, 'parent' | 'origin' | 'block'>,
    { whole, ...how }: { whole: boolean; method: string; tool: string; minutesOut: number },
  ): { cutId: string; lot: LiveLot } {
    const into = this.#open({ ...lot, block: from.block, parent: from, origin: 'Cut here' });
    const { at, pieces } = lot;
    const id = this.#world.id(at);
    const accountId = this.#farm.people.hand;
    this.#rows.cut.push({
      id,
      fromLotId: from.id,
      intoLotId: into.id,
      at,
      pieces,
      ...how,
      accountId,
      createdAt: at,
    });
    this.measure(into, at, [lot.sizeMm]);
    if (whole) this.note(from, at, -1, 'cut_out', '', id);
    this.note(into, at, pieces, 'cut_in', '', id);
    return { cutId: id, lot: into };
  }

  /** Divides a lot: some pieces go on as a lot of their own. */
  split(from: LiveLot, at: Date, day: number, pieces: number): LiveLot {
    const into = this.#open({
      block: from.block,
      at,
      day,
      pieces,
      sizeMm: from.sizeMm,
      arrivedAt: at,
      parent: from,
      origin: 'Split off here',
    });
    this.note(from, at, -pieces, 'split', `Into ${into.code}`);
    this.note(into, at, pieces, 'split', `From ${from.code}`);
    return into;
  }

  /** Puts a whole lot to another of its kind. */
  merge(from: LiveLot, into: LiveLot, at: Date): void {
    const pieces = from.pieces;
    this.note(into, at, pieces, 'merged', `From ${from.code}`);
    this.note(from, at, -pieces, 'merged', `Into ${into.code}`);
  }

  /** A change of a lot's count; a lot without pieces leaves its slots. */
  note(lot: LiveLot, at: Date, change: number, reason: LedgerReason, note = '', cutId?: string): string {
    lot.pieces += change;
    const id = this.#world.id(at);
    this.#rows.ledgerEntry.push({
      id,
      lotId: lot.id,
      at,
      change,
      reason,
      cutId: cutId ?? null,
      note,
      accountId: this.#farm.people.hand,
      createdAt: at,
    });
    this.#changedAt.set(lot.id, at);
    if (lot.pieces === 0) this.#leave(lot, at);
    return id;
  }

  /** Each lot with fewer pieces than slots left the last of them when its last piece went; a mother covers hers. */
  leaveEmptySlots(): void {
    for (const lot of this.lots) {
      const at = this.#changedAt.get(lot.id);
      if (lot.isMother || lot.pieces === 0 || lot.slots.length <= lot.pieces || at === undefined) continue;
      const kept = lot.slots.slice(0, lot.pieces);
      const left = lot.slots.slice(lot.pieces);
      if (lot.placement !== null && at <= lot.placement.fromAt) this.#never(lot, left);
      else {
        this.#leave(lot, at);
        this.#place(lot, kept, at, `${cellWords(left)} is empty`, true);
      }
    }
  }

  /** A lot that moved with fewer pieces took only as many slots. */
  #never(lot: LiveLot, slots: FarmSlot[]): void {
    const ids = new Set(slots.map(({ id }) => id));
    const isLeft = (row: { placementId: string; slotId: string }) =>
      row.placementId === lot.placement?.id && ids.has(row.slotId);
    const rows = this.#rows.placementSlot;
    rows.splice(0, rows.length, ...rows.filter((row) => !isLeft(row)));
    for (const id of ids) this.#taken.delete(id);
    lot.slots = lot.slots.filter(({ id }) => !ids.has(id));
  }

  /** Counts the pieces of a cut: the dead leave the count. */
  lookAfterCut(
    cutId: string,
    lot: LiveLot,
    at: Date,
    { dead, healed }: { dead: number; healed: number },
  ): void {
    const line = dead === 0 ? null : this.note(lot, at, -dead, 'lost', `Look after the cut: ${dead} dead`);
    this.#rows.healingLook.push({
      id: this.#world.id(at),
      cutId,
      at,
      alive: lot.pieces,
      healed,
      dead,
      ledgerEntryId: line,
      accountId: this.#farm.people.hand,
      createdAt: at,
    });
  }

  /** Measures some pieces of a lot, mm. */
  measure(lot: LiveLot, at: Date, sizes: number[]): void {
    this.#rows.sizeMeasurement.push({
      id: this.#world.id(at),
      lotId: lot.id,
      at,
      measure: 'length_mm',
      sizes,
      accountId: this.#farm.people.hand,
      createdAt: at,
    });
  }

  /** Moves a lot to other slots of its block. */
  move(lot: LiveLot, slots: FarmSlot[], at: Date, reason: string): void {
    this.#leave(lot, at);
    this.#place(lot, slots, at, reason);
  }

  #open(lot: NewLot): LiveLot {
    const { block, at, day, sizeMm, isMother = false, parent } = lot;
    const kind = this.#kinds.get(block.kindCode);
    if (!kind) throw new Error(`the library has no kind ${block.kindCode}`);
    const [id, code] = [this.#world.id(at), this.#newCode()];
    const live = { id, code, kind, block, isMother, day, sizeMm, pieces: 0, slots: [], placement: null };
    this.#enter(live, lot);
    this.#identify(live, at);
    this.#place(live, this.free(block).slice(0, slotsFor(lot.pieces)), at, parent ? 'New cut' : 'Taken in');
    this.lots.push(live);
    return live;
  }

  #enter(
    { id, code, kind, isMother, sizeMm }: LiveLot,
    { at, arrivedAt, parent, origin, permit = '' }: NewLot,
  ): void {
    this.#rows.lot.push({
      id,
      code,
      siteId: this.#farm.siteId,
      kindCode: kind.code,
      parentId: parent?.id ?? null,
      isMother,
      origin,
      permit,
      sizeMm,
      arrivedAt,
      createdAt: at,
    });
  }

  #identify(lot: LiveLot, at: Date): void {
    this.#rows.identification.push({
      id: this.#world.id(at),
      lotId: lot.id,
      scientificName: lot.kind.name,
      identificationQualifier: '',
      identificationRemarks: '',
      identifiedBy: 'Ravi Sandomil',
      dateIdentified: at.toISOString().slice(0, 10),
      accountId: this.#farm.people.manager,
      createdAt: at,
    });
  }

  #place(lot: LiveLot, slots: FarmSlot[], fromAt: Date, reason: string, stays = false): void {
    if (slots.length === 0) throw new Error(`no free slot for ${lot.code}`);
    const id = this.#world.id(fromAt);
    const accountId = this.#farm.people.hand;
    lot.slots = slots;
    lot.placement = { id, lotId: lot.id, fromAt, toAt: null, reason, stays, accountId, createdAt: fromAt };
    this.#rows.placement.push(lot.placement);
    for (const slot of slots) {
      this.#taken.add(slot.id);
      this.#rows.placementSlot.push({ placementId: id, slotId: slot.id });
    }
  }

  #leave(lot: LiveLot, at: Date): void {
    if (lot.placement) lot.placement.toAt = at;
    for (const slot of lot.slots) this.#taken.delete(slot.id);
    lot.slots = [];
    lot.placement = null;
  }

  #newCode(): string {
    let code = makeCode(this.#random);
    while (this.#codes.has(code)) code = makeCode(this.#random);
    this.#codes.add(code);
    return code;
  }
}

/** Small pieces stand two to a slot. */
export function slotsFor(pieces: number): number {
  return Math.max(1, Math.min(5, Math.ceil(pieces / 2)));
}
