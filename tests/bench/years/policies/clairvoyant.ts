import { lotOf, suits } from '../farm/befalls.ts';
import { type System, troublesOn, useOf } from '../farm/farm.ts';
import { foundAt, type Thing, type Trouble } from '../farm/troubles.ts';
import { dkh } from '../farm/water.ts';
import type { Hands } from '../hands/hands.ts';
import { alkalinityTarget } from '../hands/routine.ts';
import type { MakePolicy } from './policy.ts';

const thingOf = ({ kind }: Trouble): Thing =>
  (Object.keys(foundAt) as Thing[]).find((thing) => (foundAt[thing] as readonly string[]).includes(kind)) ??
  'doser';

/** What kills within hours or days goes first. */
const urgent: readonly Trouble['kind'][] = [
  ...([
    'pump left off',
    'power cut',
    'heater on',
    'heater off',
    'thermostat stuck',
    'top-up stuck on',
  ] as const),
  'doser stuck on',
];

/** Knows each trouble from its beginning, and each level as it truly is; has the same hands as all others. */
export const clairvoyant: MakePolicy = (hands) => {
  const mendAll = () => {
    for (const system of hands.farm.systems) {
      const on = troublesOn(hands.farm, system.index).toSorted(
        (a, b) => Number(urgent.includes(b.kind)) - Number(urgent.includes(a.kind)),
      );
      for (const one of on) mendOne(hands, system, one);
    }
  };
  return {
    morning: () => {
      mendAll();
      for (const system of hands.farm.systems) {
        keepLevels(hands, system);
        for (const lot of system.lots) if (!suits(system, lot)) hands.move(system, lot);
        hands.bringBack(system);
      }
    },
    evening: mendAll,
    told: { alerts: 0, wrong: 0, byRule: new Map() },
  };
};

function mendOne(hands: Hands, system: System, one: Trouble): void {
  const dear = urgent.includes(one.kind);
  if (!hands.follows(dear ? 'now' : 'today', 'knows', one.id)) return;
  const thing = thingOf(one);
  if (one.kind === 'power cut') hands.air(system);
  else if (one.kind === 'large sale') hands.setDose(system, useOf(system));
  else if (one.kind === 'wrong move') hands.move(system, lotOf(system, one));
  else if (thing === 'kit') hands.checkKit(system);
  else {
    if (one.kind === 'bad cuts')
      for (const lot of system.lots) if (lot.ills.rot > 0.1) hands.isolate(system, lot);
    hands.check(system, thing, dear);
  }
}

function keepLevels(hands: Hands, system: System): void {
  const { alkalinity, salinity, nitrate } = system.water;
  if (alkalinity < alkalinityTarget - 0.6 * dkh)
    hands.dose(system, Math.min(0.9 * dkh, alkalinityTarget - alkalinity));
  if (alkalinity > 10 * dkh) hands.hold(system, true);
  if (alkalinity < 9 * dkh) hands.hold(system, false);
  if (alkalinity > 12 * dkh) hands.change(system, 0.2, { once: true });
  if (Math.abs(salinity - 35) > 1) hands.salt(system, Math.max(-1, Math.min(1, 35 - salinity)));
  if (nitrate > 20) hands.change(system, 0.2, { once: true });
  const use = useOf(system);
  if (Math.abs(system.doseSet - use) > 0.08 * use && hands.farm.day % 7 === 1) hands.setDose(system, use);
}
