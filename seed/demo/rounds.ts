import { hourMs } from '../../src/science/numeric/time.ts';
import { unitName } from '../../src/science/units/names.ts';
import { quantities } from '../library.ts';
import type { Farm, FarmRack } from './farm.ts';
import type { DemoTables } from './rows.ts';
import type { LiveLot } from './stock-book.ts';
import { DAYS, type World } from './world.ts';

/** Rounds are kept for this many days back. */
const KEPT_DAYS = 28;
const MORNING = { name: 'Morning walk', startsAt: '08:00', hour: 8.05, hours: 2.1, steps: ['look', 'test'] };
const EVENING = { name: 'Evening look', startsAt: '18:00', hour: 18.02, hours: 1.6, steps: ['look', 'feed'] };
type Plan = typeof MORNING;
const FULL_STEPS = ['look', 'test', 'feed', 'check'];

/**
 * Plans two walks a day and notes those of the last weeks, each rack and each exception as it was tapped; and a walk with
 * all steps that has just come due, for the visitor to walk.
 */
export function walkTheRounds(world: World, farm: Farm, lots: readonly LiveLot[], rows: DemoTables): void {
  const walk = new Walk(world, farm, lots, rows);
  for (const plan of [MORNING, EVENING]) {
    const planId = walk.plan(plan);
    for (let day = DAYS - KEPT_DAYS; day <= DAYS; day++) walk.round(plan, planId, day);
  }
  const hour = Math.floor((world.now.getTime() - world.at(DAYS, 0).getTime()) / hourMs);
  walk.plan({ name: 'Full walk', startsAt: `${String(hour).padStart(2, '0')}:00`, steps: FULL_STEPS });
}

const quantityNames = new Map(quantities().map(({ code, name }) => [code, name]));

/** "Alkalinity 8.2 dKH", as a round tells of a test. */
const testWords = (code: string, text: string, unit: string) =>
  `${quantityNames.get(code) ?? code} ${text} ${unitName(code, unit)}`.trim();

class Walk {
  readonly #world: World;
  readonly #farm: Farm;
  readonly #rows: DemoTables;
  readonly #racks: FarmRack[];
  readonly #rackOfLot: Map<string, FarmRack>;
  readonly #codeOfLot: Map<string, string>;

  constructor(world: World, farm: Farm, lots: readonly LiveLot[], rows: DemoTables) {
    this.#world = world;
    this.#farm = farm;
    this.#rows = rows;
    this.#racks = farm.systems.flatMap((system) => system.tanks.flatMap((tank) => tank.racks));
    this.#rackOfLot = new Map(lots.map((lot) => [lot.id, lot.block.rack]));
    this.#codeOfLot = new Map(lots.map((lot) => [lot.id, lot.code]));
  }

  plan({ name, startsAt, steps }: Pick<Plan, 'name' | 'startsAt' | 'steps'>): string {
    const id = this.#world.id(this.#world.at(0, 6));
    const { siteId, people, systems } = this.#farm;
    const weekdays = [1, 2, 3, 4, 5, 6, 7];
    this.#rows.roundPlan.push({ id, siteId, name, startsAt, weekdays, steps, assigneeId: people.hand });
    systems
      .flatMap((system) => system.tanks)
      .forEach((tank, position) => {
        this.#rows.roundPlanTank.push({ planId: id, tankId: tank.id, position });
      });
    return id;
  }

  round(plan: Plan, planId: string, day: number): void {
    const startedAt = this.#world.at(day, plan.hour);
    const finishedAt = this.#world.at(day, plan.hour + plan.hours);
    const { now } = this.#world;
    if (startedAt > now) return;
    const id = this.#world.id(startedAt);
    const startedById = this.#farm.people.hand;
    const finished = finishedAt <= now ? finishedAt : null;
    this.#rows.round.push({
      id,
      planId,
      day: this.#world.date(day),
      startedAt,
      startedById,
      finishedAt: finished,
    });
    this.#lookAtRacks(id, plan, day);
    for (const { at, ...entry } of this.#noted(startedAt, finishedAt)) this.#enter(id, at, entry);
  }

  #lookAtRacks(roundId: string, plan: Plan, day: number): void {
    this.#racks.forEach((rack, index) => {
      if (rack.blocks.length === 0) return;
      const at = this.#world.at(day, plan.hour + (plan.hours * (index + 0.5)) / this.#racks.length);
      this.#enter(roundId, at, { kind: 'rack_well', rackId: rack.id, detail: {} });
    });
  }

  /** What the rest of the history holds of this walk: conditions, readings, feedings. */
  #noted(from: Date, to: Date) {
    const within = <T extends { at: Date }>(items: T[]) => items.filter(({ at }) => from <= at && at <= to);
    return [
      ...within(this.#rows.condition).map(({ at, id, lotId, state, grade, note }) => ({
        at,
        kind: 'condition',
        lotId,
        rackId: this.#rackOfLot.get(lotId)?.id ?? null,
        detail: {
          conditionId: id,
          code: this.#codeOfLot.get(lotId),
          state,
          grade: grade ?? null,
          note: note ?? '',
        },
      })),
      ...within(this.#rows.reading).map(({ at, id, systemId, quantityCode, enteredText, enteredUnit }) => ({
        at,
        kind: 'reading',
        systemId,
        detail: { readingId: id, quantityCode, what: testWords(quantityCode, enteredText, enteredUnit) },
      })),
      ...within(this.#rows.feeding).map(({ at, id, systemId, food }) => ({
        at,
        kind: 'feeding',
        systemId,
        detail: { feedingId: id, food },
      })),
    ];
  }

  #enter(
    roundId: string,
    at: Date,
    entry: Omit<DemoTables['roundEntry'][number], 'id' | 'roundId' | 'at'>,
  ): void {
    if (at > this.#world.now) return;
    const accountId = this.#farm.people.hand;
    this.#rows.roundEntry.push({ id: this.#world.id(at), roundId, at, receivedAt: at, accountId, ...entry });
  }
}
