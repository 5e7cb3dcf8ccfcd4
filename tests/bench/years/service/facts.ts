import type { WatchState } from '../../../../src/stock/pests/state.ts';
import type {
  ConditionFact,
  KeptFact,
  LotFact,
  PlaceCareFact,
  RoutineFact,
  SystemFacts,
} from '../../../../src/watch/facts/types.ts';
import { unknownCare } from '../../../../src/watch/facts/types.ts';
import { blankKit, blankLot, blankSystem, dayZero, madeId, onDay } from '../../../watch/facts.ts';
import { idOf, type Rack, type System } from '../farm/farm.ts';
import type { Group, Lot } from '../farm/stock.ts';
import { calciumPerMeq, newWater } from '../farm/water.ts';
import type { Code, SystemBook } from '../hands/book.ts';
import { errorOf } from '../hands/hands.ts';
import { testDays } from '../hands/routine.ts';
import { bands } from '../truth.ts';
import { type Correction, correctionFact } from './correcting.ts';
import { Readings } from './readings.ts';

const litHours = 10;
/** So far back doses are kept. */
const historyDays = 220;
const source = 'made for the bench';
/** So long those that lost flesh when they went are told of, as the watch does. */
const goneDays = 14;
/** As a part of a day. */
const second = 1 / 86_400;

/** Lists that grow at their end: made anew only when they have grown, so that what rules worked out of them stays. */
class Grown<From, To> {
  readonly #make: (from: From, index: number) => To;
  #made: To[] = [];

  constructor(make: (from: From, index: number) => To) {
    this.#make = make;
  }

  of(from: readonly From[]): readonly To[] {
    if (from.length > this.#made.length)
      this.#made = [
        ...this.#made,
        ...from.slice(this.#made.length).map((one, i) => this.#make(one, this.#made.length + i)),
      ];
    return this.#made;
  }
}

/**
 * One system as the service knows it: facts as its loaders would make them of what the hands wrote down. Left out, since
 * nothing here writes it: probes, several sites, the comparison of affected lots, losses above usual, routines of doses.
 */
export class KnownSystem {
  readonly #system: System;
  readonly #book: SystemBook;
  readonly readings: Readings;
  /** All corrections that were planned. */
  readonly corrections: Correction[] = [];
  /** How many days apart a quantity is tested where that was changed; null: on its days of the week. */
  testsEvery: (code: Code) => number | null = () => null;
  #dosed: { day: number; rise: number }[] = [];
  #lots: { key: string; facts: readonly LotFact[] } = { key: '', facts: [] };
  readonly #first: Map<string, readonly { par: number; fromDay: number; estimated: boolean }[]> = new Map();

  readonly #changes = new Grown(({ at, part, once }: SystemBook['changes'][number], i) => ({
    ...{ id: idOf(20 + this.#system.index, i), day: dayZero + at, at: onDay(at).toISOString() },
    ...{ volumeL: part * this.#system.fullL, fraction: part, ...(once ? { once: true } : {}) },
  }));

  constructor(system: System, book: SystemBook) {
    this.#system = system;
    this.#book = book;
    this.readings = new Readings(system.id, (n) => this.kitId(n), book);
  }

  kitId(n: number): string {
    return idOf(10 + this.#system.index, n);
  }

  lampId(rack: number): string {
    return idOf(30 + this.#system.index, rack);
  }

  /** The doser posts what it was set to, a day at a time at the end of each day until yesterday, whoever is there. */
  post(today: number): void {
    const { doseHeld, doseSet } = this.#system;
    const rise = doseHeld ? 0 : doseSet;
    for (let day = (this.#dosed.at(-1)?.day ?? today - 2) + 1; day < today; day++)
      this.#dosed.push({ day, rise });
  }

  /** All that is known at a time. */
  at(now: number): SystemFacts {
    const { id, name, fullL } = this.#system;
    const readings = this.readings.facts;
    return blankSystem({
      ...{ systemId: id, name, volumeL: fullL, kept, readings, tanks: [{ id: this.#tankId, name: 'Tank' }] },
      changes: this.#changes.of(this.#book.changes),
      doses: this.#doses(),
      switchedOff: this.#off(),
      events: this.#book.sales.map(({ at }, i) => ({
        ...{
          id: idOf(70, i),
          day: dayZero + at,
          at: onDay(at).toISOString(),
          kind: 'stock_sold' as const,
          note: '',
        },
      })),
      corrections: this.corrections.map((one, i) => correctionFact(one, idOf(75 + this.#system.index, i))),
      routines: this.#routines(),
      temperatures: (readings.get('temperature') ?? [])
        .slice(-120)
        .map(({ day, value }) => ({ day: Math.floor(day), mean: value })),
      ...{ kits: this.#kits(), kitsPutAway: this.#putAway(now) },
      ...{ lots: this.#knownLots(now), goneLots: this.#gone(now) },
      lamps: this.#system.racks.map((rack, r) => this.#lamp(rack, r)),
      racks: this.#system.racks.map((rack, r) => this.#rack(rack, r)),
      pests: this.#pests(now),
    });
  }

  get #tankId(): string {
    return idOf(40, this.#system.index);
  }

  #doses(): SystemFacts['doses'] {
    const fresh = [
      ...this.#dosed
        .slice(this.#posted)
        .map(({ day, rise }) => ({ at: day + 1 - second, rise, byInstrument: true })),
      ...this.#book.doses.slice(this.#given).map(({ at, rise }) => ({ at, rise, byInstrument: false })),
    ];
    this.#posted = this.#dosed.length;
    this.#given = this.#book.doses.length;
    if (fresh.length === 0) return this.#doseFacts;
    const rows = fresh.flatMap(({ at, rise, byInstrument }) =>
      (
        [
          ['alkalinity', rise],
          ['calcium', rise * calciumPerMeq],
        ] as const
      ).map(([quantityCode, raised]) => ({
        ...{ id: madeId(), day: dayZero + at, at: onDay(at).toISOString(), substance: 'balanced solution' },
        ...{ quantityCode, rise: raised, ...(byInstrument ? { byInstrument } : {}) },
      })),
    );
    const since = rows[0]?.day ?? 0;
    const before = this.#doseFacts.filter(({ day }) => day > since - historyDays);
    this.#doseFacts = [...before, ...rows].sort((a, b) => a.day - b.day);
    return this.#doseFacts;
  }

  #doseFacts: SystemFacts['doses'] = [];
  #posted = 0;
  #given = 0;

  #off(): SystemFacts['switchedOff'] {
    return this.#book.off.map(({ at, dueAt, backAt }, i) => ({
      ...{ id: idOf(60, i), day: dayZero + at, at: onDay(at).toISOString() },
      ...{
        dueDay: dayZero + dueAt,
        lateDay: dayZero + dueAt + 0.25 / 24,
        onDay: backAt === null ? null : dayZero + backAt,
      },
      ...{
        thing: 'return_pump' as const,
        what: 'Return pump',
        why: 'cleaning',
        onReturn: '',
        equipmentId: null,
      },
      ...{ feedingId: null, tankId: null, tankName: '', keeper: 'the bench hand' },
    }));
  }

  #routines(): RoutineFact[] {
    const test = (code: Code, days: readonly number[], i: number): RoutineFact => ({
      ...{ id: idOf(65 + this.#system.index, i), work: 'test', quantityCode: code, words: `${code} test` },
      ...{
        everyDays: this.testsEvery(code) ?? Math.round(7 / days.length),
        weekdays: days.length === 7 || this.testsEvery(code) !== null ? [] : days.map(isoWeekday),
        startsDay: dayZero,
      },
      lastDay: this.readings.facts.get(code)?.at(-1)?.day ?? null,
    });
    const last = this.#book.changes.at(-1)?.at;
    return [
      ...Object.entries(testDays).map(([code, days], i) => test(code as Code, days, i)),
      {
        ...{
          id: idOf(65 + this.#system.index, 20),
          work: 'water_change',
          quantityCode: null,
          words: 'water change',
        },
        ...{
          everyDays: 7,
          weekdays: [],
          startsDay: dayZero,
          lastDay: last === undefined ? null : dayZero + last,
        },
      },
    ];
  }

  #kits(): SystemFacts['kits'] {
    const bottle = this.#book.bottles.at(-1);
    const readings = this.readings.facts.get('alkalinity') ?? [];
    if (bottle === undefined || bottle.putAwayAt !== null) return [];
    const id = this.kitId(bottle.n);
    const key = `${bottle.n} ${bottle.checks.length} ${readings.length} ${readings.at(-1)?.id}`;
    if (this.#kit.key === key) return this.#kit.kits;
    const opened = { openedDay: dayZero + bottle.at, openedAt: onDay(bottle.at).toISOString() };
    const value = readings.at(-1)?.value ?? 3;
    const kit = blankKit({
      ...{
        id,
        label: labelOf(bottle.n),
        quantityCode: 'alkalinity',
        u: errorOf('alkalinity', value),
        ...opened,
      },
      checks: bottle.checks.map((check, i) => ({
        ...{ id: `${id} ${i}`, day: dayZero + check.at, at: onDay(check.at).toISOString() },
        ...{ standard: newWater.alkalinity, value: check.value, u: errorOf('alkalinity', check.value) },
      })),
      systems: [{ systemId: this.#system.id, name: this.#system.name, firstDay: opened.openedDay, readings }],
    });
    this.#kit = { key, kits: [kit] };
    return this.#kit.kits;
  }

  #kit: { key: string; kits: SystemFacts['kits'] } = { key: '', kits: [] };

  /** Whoever opens a bottle puts the one before away. */
  #putAway(now: number): SystemFacts['kitsPutAway'] {
    const bottles = this.#book.bottles;
    return bottles.slice(0, -1).flatMap(({ n, putAwayAt }, i) => {
      const next = bottles[i + 1] as SystemBook['bottles'][number];
      const at = putAwayAt ?? next.at;
      if (at < now - 60) return [];
      const other = { id: this.kitId(next.n), label: labelOf(next.n), openedDay: dayZero + next.at };
      return {
        ...{
          id: this.kitId(n),
          label: labelOf(n),
          quantityCode: 'alkalinity',
          day: dayZero + at,
          at: onDay(at).toISOString(),
        },
        others: [{ ...other, tested: next.checks.length, usedHere: true }],
      };
    });
  }

  #knownLots(now: number): readonly LotFact[] {
    const { looks, lamps, surveys, moves, cuts } = this.#book;
    const apart = this.#system.lots.filter(({ apartSince }) => apartSince !== null).length;
    const dead = this.#system.lots.filter(({ pieces }) => pieces.every(({ alive }) => !alive)).length;
    const key = [looks.length, lamps.length, surveys.length, moves.length, cuts.length, apart, dead].join(
      ' ',
    );
    if (this.#lots.key === key) return this.#lots.facts;
    const byLot = Map.groupBy(looks, ({ lot }) => lot);
    const facts = this.#system.lots
      .filter(({ apartSince, pieces }) => apartSince === null && pieces.some(({ alive }) => alive))
      .map((lot) => this.#lot(lot, byLot.get(lot.id) ?? [], now));
    this.#lots = { key, facts };
    return facts;
  }

  #lot(lot: Lot, looks: SystemBook['looks'], now: number): LotFact {
    const rack = this.#system.racks[lot.rack] as Rack;
    return blankLot({
      ...{ id: lot.id, code: lot.name, pieces: lot.pieces.filter(({ alive }) => alive).length },
      ...{
        kindName: `${lot.group.genus} sp.`,
        kindIds: [lot.group.name],
        place: `${rack.name}, ${lot.cell.row}-${lot.cell.column}`,
      },
      ...{
        placementId: `${lot.id} ${lot.placedDay}`,
        placedAt: onDay(lot.placedDay).toISOString(),
        placedDay: dayZero + lot.placedDay,
      },
      ...{
        rackId: rack.id,
        cells: [{ row: lot.cell.row, column: lot.cell.column }],
        lampId: this.lampId(lot.rack),
        flow: lot.group.flow,
      },
      ...{ light: this.#light(lot), cutDay: this.#cutDay(lot) },
      care: careOf(lot.group),
      conditions: looks
        .filter(({ at }) => at > now - 120)
        .map(
          ({ at, state, grade, compared }, i): ConditionFact => ({
            ...{
              id: `${lot.id} ${at} ${i}`,
              day: dayZero + at,
              at: onDay(at).toISOString(),
              state,
              grade: state === 'well' ? null : grade,
            },
            ...{ compared, note: '' },
          }),
        )
        .reverse(),
    });
  }

  /** Lots that lost flesh when they were set apart, as the watch's own query would give them. */
  #gone(now: number): SystemFacts['goneLots'] {
    return this.#system.lots
      .filter(({ apartSince }) => apartSince !== null && apartSince > now - goneDays)
      .map((lot) => {
        const looks = this.#book.looks.filter(
          ({ lot: id, at }) => id === lot.id && at <= (lot.apartSince ?? 0) + 1,
        );
        const { id, code, ownName, kindName, parentId, place, conditions } = this.#lot(lot, looks, now);
        const gone = { id, code, ownName, kindName, parentId, place, conditions };
        return { ...gone, cutDay: this.#cutDay(lot), leftDay: dayZero + (lot.apartSince ?? 0) };
      })
      .filter(({ conditions: [latest] }) => latest?.state === 'receding');
  }

  /** When it was last cut, as far as that was written down. */
  #cutDay({ id }: Lot): number | null {
    const at = this.#book.cuts.findLast(({ lot }) => lot === id)?.at;
    return at === undefined ? null : dayZero + at;
  }

  /** The light it lived in, as far as cells were surveyed and lamps' settings were noted. */
  #light(lot: Lot): LotFact['light'] {
    const first = this.#first.get(lot.id) ?? [{ fromDay: -120, par: lot.cell.par, estimated: false }];
    const moved = this.#book.moves.filter((one) => one.lot === lot.id).at(-1)?.at;
    let pieces = first;
    // Where it was moved it has the light of its new cell from then on.
    if (moved !== undefined && first.at(-1)?.fromDay !== moved && (first.at(-1)?.fromDay ?? 0) < moved)
      pieces = [...first, { fromDay: moved, par: lot.cell.par, estimated: false }];
    this.#first.set(lot.id, pieces);
    const since = moved ?? -120;
    const turned = this.#book.lamps
      .filter(({ rack, at }) => rack === lot.rack && at > since)
      .map(({ at, percent }) => ({ fromDay: at, par: (lot.cell.par * percent) / 70, estimated: true }));
    const surveyed = this.#book.surveys
      .filter(({ rack, at }) => rack === lot.rack && at > since)
      .map(({ at, part }) => ({ fromDay: at, par: lot.cell.par * part, estimated: false }));
    return [...pieces, ...turned, ...surveyed]
      .sort((a, b) => a.fromDay - b.fromDay)
      .map(({ fromDay, par, estimated }) => ({
        ...{ fromDay: dayZero + fromDay, par, dli: par * litHours * 0.0036, error: 0.06 * par, estimated },
      }));
  }

  #lamp({ name }: Rack, r: number): SystemFacts['lamps'][number] {
    const settings = this.#book.lamps.filter(({ rack }) => rack === r);
    return {
      ...{ id: this.lampId(r), name: `Lamps of ${name}`, tankName: 'Tank' },
      settings: [{ at: -100, percent: 70 }, ...settings].map(({ at, percent }, i) => ({
        ...{
          id: `${this.lampId(r)} ${i}`,
          day: dayZero + at,
          at: onDay(at).toISOString(),
          percent: Math.round(percent),
          note: '',
        },
      })),
    };
  }

  #rack({ id, name, cells }: Rack, r: number): SystemFacts['racks'][number] {
    const mean = cells.reduce((sum, { par }) => sum + par, 0) / cells.length;
    const surveys = this.#book.surveys.filter(({ rack }) => rack === r);
    return {
      ...{ id, name, tankName: 'Tank', tankHeightMm: 400, lampId: this.lampId(r), depthMm: 200 },
      ...{ slotWidthMm: 80, slotDepthMm: 80, standsDay: dayZero - 200 },
      surveys: [{ at: -100, part: 1, percent: 70 }, ...surveys].map(({ at, part, percent }, i) => ({
        ...{
          id: `${id} ${i}`,
          day: dayZero + at,
          at: onDay(at).toISOString(),
          percent,
          meter: 'meter',
          par: mean * part,
        },
      })),
    };
  }

  #pests(now: number): WatchState[] {
    return this.#book.pests
      .filter(({ endedAt }) => endedAt === null || endedAt > now - 40)
      .map(({ at, lot, endedAt }, i) => ({
        ...{ id: idOf(80 + this.#system.index, i), systemId: this.#system.id, systemName: this.#system.name },
        ...{
          siteId: 'site',
          timeZone: 'UTC',
          tankId: null,
          tankName: '',
          pest: 'unnamed',
          openedAt: onDay(at),
        },
        ...{
          openedWhy: 'seen on a lot',
          endedAt: endedAt === null ? null : onDay(endedAt),
          endedWhy: 'treated, two clean looks',
        },
        ...{ version: 1, looks: [], treatments: [], arrivals: [] },
        sightings: [
          {
            ...{
              conditionId: `pest ${i}`,
              lotId: lot,
              code: lot.slice(-4),
              at: onDay(at),
              grade: 2,
              counted: null,
              note: '',
            },
            ...{ by: 'the bench hand', deliveryId: null, supplier: null },
          },
        ],
      }));
  }
}

/** Day 0 is a Thursday. */
const isoWeekday = (day: number): number => ((day + 3) % 7) + 1;

const kept: SystemFacts['kept'] = new Map(
  Object.entries(bands).map(([code, [bandLow, bandHigh]]): [string, KeptFact] => [
    code,
    {
      ...{ bandLow, bandHigh, limitHigh: code === 'nitrate' ? 30 : null, source },
      makeUp: code in newWater ? newWater[code as keyof typeof newWater] : null,
    },
  ]),
);

const labelOf = (n: number): string => `Alkalinity ${n + 1}`;

const cares = new Map<Group, PlaceCareFact>();

/** What the care library would say of a group; the same object each time. */
function careOf(group: Group): PlaceCareFact {
  const known = cares.get(group) ?? {
    ...unknownCare,
    ceiling: { par: group.ceiling, source },
    stepRatio: { ratio: 1.5, source },
    adaptationDays: { days: 20, source },
    range: { low: group.low, high: group.high, source },
  };
  cares.set(group, known);
  return known;
}
