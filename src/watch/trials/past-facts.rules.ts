import { dayOf } from '../../science/numeric/time.ts';
import { historyDays } from '../../water/record/span.ts';
import type { KitFact, LotFact, PestFact, ReadingFact, RoutineFact, SystemFacts } from '../facts/types.ts';

type Readings = SystemFacts['readings'];

/**
 * A system as it was known at a moment of the past, cut from facts that reach back far enough. A reading is known from
 * when it was written down; one that was voided or refuted since is left out, and trust is as it was settled since.
 * Changes, doses, feedings and looks at lots are known from their own time. Of lots there are those that stand in the
 * system today, with the light they had then.
 */
export function factsAt(facts: SystemFacts, moment: Date): SystemFacts {
  const day = dayOf(moment);
  const until = <T extends { day: number }>(rows: readonly T[]) => rows.slice(0, firstAfter(rows, day));
  const readings = new Map([...facts.readings].map(([code, all]) => [code, knownAt(all, code, day)]));
  return {
    ...facts,
    readings,
    changes: until(facts.changes),
    doses: until(facts.doses),
    left: until(facts.left),
    looked: facts.looked.filter(({ toDay }) => toDay <= day),
    feedings: until(facts.feedings),
    switchedOff: until(facts.switchedOff).map((one) => ({ ...one, onDay: doneBy(one.onDay, day) })),
    faults: until(facts.faults).map((one) => ({ ...one, mendedDay: doneBy(one.mendedDay, day) })),
    events: until(facts.events),
    looks: until(facts.looks).map((one) => ({ ...one, doneDay: doneBy(one.doneDay, day) })),
    routines: facts.routines.map((one) => ({ ...one, lastDay: lastDone(one, facts, readings, day) })),
    corrections: facts.corrections
      .filter(({ fromDay }) => fromDay <= day)
      .map(({ steps, toDay, ...one }) => ({
        ...one,
        toDay: doneBy(toDay, day),
        steps: steps.map((step) => ({ ...step, doneDay: doneBy(step.doneDay, day) })),
      })),
    // What probes reported is kept here for two days only.
    probes: [],
    probeVotes: [],
    silentDevices: [],
    siteMoves: [],
    // How far photographs scatter was learnt by all of them.
    photographs: [],
    temperatures: facts.temperatures.filter((one) => one.day < Math.floor(day)),
    kits: facts.kits.flatMap((kit) => kitAt(kit, day)),
    visitingKits: facts.visitingKits.flatMap((kit) => kitAt(kit, day)),
    openedKits: (facts.openedKits ?? []).filter(({ openedDay }) => openedDay <= day),
    kitsPutAway: [],
    pests: facts.pests.flatMap((watch) => pestAt(watch, moment)),
    lots: facts.lots.map((lot) => lotAt(lot, day)),
    goneLots: [],
    lamps: facts.lamps.map(({ settings, ...lamp }) => ({ ...lamp, settings: until(settings) })),
    racks: facts.racks.map(({ surveys, ...rack }) => ({ ...rack, surveys: until(surveys) })),
  };
}

/** A watch for a pest as it stood at a moment; none before it began. */
function pestAt(watch: PestFact, moment: Date): PestFact[] {
  const known = <T extends { at: Date }>(rows: readonly T[]) => rows.filter(({ at }) => at <= moment);
  if (watch.openedAt > moment) return [];
  const endedAt = watch.endedAt !== null && watch.endedAt <= moment ? watch.endedAt : null;
  const { sightings, looks, treatments, arrivals } = watch;
  return [
    {
      ...{ ...watch, endedAt },
      sightings: known(sightings),
      looks: known(looks),
      treatments: known(treatments),
      arrivals: known(arrivals),
    },
  ];
}

const doneBy = (done: number | null, day: number) => (done !== null && done <= day ? done : null);

/** Where in rows in order of time those after a day begin. */
function firstAfter(rows: readonly { day: number }[], day: number): number {
  let [low, high] = [0, rows.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((rows[middle]?.day ?? 0) <= day) low = middle + 1;
    else high = middle;
  }
  return low;
}

function knownAt(all: readonly ReadingFact[], code: string, day: number): readonly ReadingFact[] {
  return all
    .slice(firstAfter(all, Math.floor(day) - historyDays(code)), firstAfter(all, day))
    .filter(({ knownDay }) => knownDay === undefined || knownDay <= day);
}

function lastDone(
  { work, quantityCode, lastDay }: RoutineFact,
  facts: SystemFacts,
  readings: Readings,
  day: number,
): number | null {
  if (lastDay !== null && lastDay <= day) return lastDay;
  const logged = {
    test: () => readings.get(quantityCode ?? '') ?? [],
    water_change: () => facts.changes,
    dose: () => facts.doses.filter((dose) => quantityCode === null || dose.quantityCode === quantityCode),
    feeding: () => facts.feedings,
  }[work]();
  return logged[firstAfter(logged, day) - 1]?.day ?? null;
}

function kitAt(kit: KitFact, day: number): KitFact[] {
  const systems = kit.systems
    .filter(({ firstDay }) => firstDay <= day)
    .map((one) => ({ ...one, readings: [...knownAt(one.readings, kit.quantityCode, day)] }));
  const putAway = kit.retiredDay != null && kit.retiredDay <= day;
  if (systems.length === 0 || putAway) return [];
  const later = kit.systems
    .flatMap(({ readings }) => readings)
    .filter((reading) => reading.kitId === kit.id && reading.day > day);
  const checks = kit.checks.filter((check) => check.day <= day);
  const pairs = (kit.pairs ?? []).filter((pair) => pair.day <= day);
  const used = kit.used - later.length - (kit.checks.length - checks.length);
  const { openings: _, ...known } = kit;
  return [{ ...known, systems, checks, pairs, used: Math.max(0, used), retiredDay: null }];
}

function lotAt(lot: LotFact, day: number): LotFact {
  return {
    ...lot,
    light: lot.light.filter(({ fromDay }) => fromDay <= day),
    cutDay: lot.cutDay !== null && lot.cutDay <= day ? lot.cutDay : null,
    conditions: lot.conditions.filter((condition) => condition.day <= day),
    acclimation: acclimationAt(lot.acclimation, day),
  };
}

function acclimationAt(acclimation: LotFact['acclimation'], day: number): LotFact['acclimation'] {
  if (acclimation === null || acclimation.startsDay > day) return null;
  const steps = acclimation.steps.map((step) => ({ ...step, doneDay: doneBy(step.doneDay, day) }));
  return { ...acclimation, steps, paused: false };
}
