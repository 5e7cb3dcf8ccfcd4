import { offUntil, things } from '../../src/farm/switched-off/things.rules.ts';
import { minuteMs } from '../../src/science/numeric/time.ts';
import { libraryKinds } from '../library.ts';
import type { Farm, FarmTank } from './farm.ts';
import type { DemoTables } from './rows.ts';
import { DAYS, type World } from './world.ts';

const FLESHY = [1, 3, 5, 7];
const OTHERS = [2, 5];
const FEED_HOUR = 18;
export const PUMPS_OFF_MIN = 30;

/** Feeds every tank on its days in the evening, the pumps off for half an hour and on again. */
export function feedTheFarm(world: World, farm: Farm, rows: DemoTables): void {
  const random = world.random('feeding');
  const tanks = farm.systems.flatMap((system) => system.tanks.map((tank) => ({ system, tank })));
  const meals = tanks.map(({ tank }) => mealOf(tank));
  for (let day = 0; day <= DAYS; day++) {
    tanks.forEach(({ system, tank }, index) => {
      const { weekdays, food, grams, fleshy } = meals[index] ?? mealOf(tank);
      const at = world.at(day, FEED_HOUR + index * 0.15 + random.below(5) / 60);
      const on = new Date(at.getTime() + (PUMPS_OFF_MIN + random.below(4)) * minuteMs);
      if (!weekdays.includes(world.weekday(day)) || on > world.now) return;
      const id = world.id(at);
      rows.feeding.push({
        id,
        systemId: system.id,
        tankId: tank.id,
        at,
        food,
        amountG: grams + random.below(6),
        pumpsOffMin: PUMPS_OFF_MIN,
        response: fleshy && random.uniform() < 0.3 ? 'Tentacles out, taken within minutes' : '',
        accountId: farm.people.hand,
        createdAt: at,
      });
      rows.switchedOff.push({
        id: world.id(at),
        systemId: system.id,
        tankId: tank.id,
        feedingId: id,
        thing: 'all_flow',
        what: 'Pumps',
        why: `Feeding: ${food}`,
        offAt: at,
        ...offUntil(at, things.all_flow, PUMPS_OFF_MIN),
        onReturn: things.all_flow.onReturn,
        accountId: farm.people.hand,
        keeperId: farm.people.hand,
        createdAt: at,
        seenRunningAt: on,
        seenRunningById: farm.people.hand,
      });
    });
  }
}

/** What one tank is fed, on which weekdays; grams: the least of a meal. */
export function mealOf(tank: FarmTank) {
  const often = new Set(
    libraryKinds()
      .filter(({ care }) => (care.feeding_every_days?.high ?? 99) <= 5)
      .map(({ code }) => code),
  );
  const fleshy = hungry(tank, often);
  return {
    fleshy,
    weekdays: fleshy ? FLESHY : OTHERS,
    food: fleshy ? 'Chopped small crustaceans' : 'Fine suspended food',
    grams: fleshy ? 20 : 6,
  };
}

const hungry = ({ racks }: FarmTank, often: ReadonlySet<string>) =>
  racks.some(({ plan }) => plan.kinds.some((kind) => often.has(kind)));
