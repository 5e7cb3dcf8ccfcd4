import { HABITS } from './bench.ts';
import type { Farm, FarmSystem } from './farm.ts';
import { mealOf, PUMPS_OFF_MIN } from './feeding.ts';
import type { DemoTables } from './rows.ts';
import type { World } from './world.ts';

/** Plans what the farm does anyway on its weekdays: tests, water changes, the doser's work, meals. */
export function planTheRoutines(world: World, farm: Farm, rows: DemoTables): void {
  for (const system of farm.systems) {
    const plan = (weekdays: readonly number[], row: Planned) =>
      planOne(world, farm, system, weekdays, row, rows);
    for (const { code, weekdays } of HABITS) plan(weekdays, { work: 'test', quantityCode: code, detail: {} });
    const { changePart, changeWeekday, volumeL } = system.plan;
    const change = Math.round((changePart * volumeL) / 10) * 10;
    plan([changeWeekday], { work: 'water_change', detail: { volumeL: change } });
    const dose = rows.dose.findLast((one) => one.systemId === system.id && one.quantityCode === 'alkalinity');
    if (dose !== undefined) {
      const { substance, amount, unit, quantityCode } = dose;
      plan(everyDay, {
        work: 'dose',
        quantityCode: quantityCode ?? null,
        detail: { substance, amount, unit },
      });
    }
    for (const tank of system.tanks) {
      const { weekdays, food, grams } = mealOf(tank);
      const detail = { food, amountG: grams, tankId: tank.id, pumpsOffMin: PUMPS_OFF_MIN };
      plan(weekdays, { work: 'feeding', detail });
    }
  }
}

const everyDay = [1, 2, 3, 4, 5, 6, 7];

type Planned = Pick<DemoTables['routine'][number], 'work' | 'quantityCode' | 'detail'>;

function planOne(
  world: World,
  farm: Farm,
  system: FarmSystem,
  weekdays: readonly number[],
  row: Planned,
  rows: DemoTables,
): void {
  const createdAt = world.at(0, 9);
  rows.routine.push({
    id: world.id(createdAt),
    systemId: system.id,
    ...row,
    everyDays: 7 / weekdays.length,
    startsOn: firstOf(world, startOf(weekdays)),
    accountId: farm.people.manager,
    createdAt,
  });
}

/** The weekday from which steps of 7/n days, taken up to whole days, fall on the others. */
function startOf(weekdays: readonly number[]): number {
  const falls = (from: number) =>
    weekdays.map((_, i) => ((from - 1 + Math.ceil((i * 7) / weekdays.length)) % 7) + 1).sort((a, b) => a - b);
  const start = weekdays.find((day) => String(falls(day)) === String(weekdays));
  if (start === undefined) throw new Error(`no even plan falls on the weekdays ${weekdays}`);
  return start;
}

/** The first day of the history that is this weekday. */
function firstOf(world: World, weekday: number): string {
  const day = everyDay.map((n) => n - 1).find((n) => world.weekday(n) === weekday) ?? 0;
  return world.date(day);
}
