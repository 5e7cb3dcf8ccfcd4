import { describe, expect, test } from 'vitest';
import type { PlantedTrouble } from '../../../seed/demo/truth.ts';
import { checkError, judgeKit } from '../../../src/science/control.ts';
import { trackNitrate } from '../../../src/science/filter/nitrate.ts';
import { nitrateRise } from '../../../src/science/filter/nitrate-forecast.ts';
import { swingOptions, watchSwing } from '../../../src/science/filter/swing.ts';
import { theilSen } from '../../../src/science/trend.ts';
import { convertDifference } from '../../../src/science/units/convert.ts';
import { dayOf, farmOf, mean, NOW, numbers, spread } from './farms.ts';

const DKH = convertDifference('alkalinity', 1, 'dKH', 'meq/L');

function planted(seed: number, rule: PlantedTrouble['rule']): PlantedTrouble {
  const trouble = farmOf(seed).truth.planted.find((candidate) => candidate.rule === rule);
  if (!trouble) throw new Error(`${rule} is not planted`);
  return trouble;
}

function morningsOf(seed: number, systemId: string) {
  return farmOf(seed).truth.systems.find((system) => system.systemId === systemId)?.mornings ?? [];
}

describe.each(numbers)('of what was planted (seed %d)', (seed) => {
  const { tables, truth } = farmOf(seed);

  test('each of the four troubles is there once, the two of water in systems of their own', () => {
    expect(truth.planted.map(({ rule }) => rule).sort()).toEqual([
      'alkalinity-unsteady',
      'kit-biased',
      'nitrate-creep',
      'too-much-light',
    ]);
    const systems = truth.planted
      .filter(({ rule }) => rule !== 'too-much-light')
      .map(({ systemId }) => systemId);
    expect(new Set([...systems, truth.calmSystemId]).size).toBe(4);
  });

  test('nitrate creeps by an eighth of its level a week through the weekly changes, and stays under 30', () => {
    const { systemId, since } = planted(seed, 'nitrate-creep');
    const after = morningsOf(seed, systemId).filter(({ at }) => at >= since);
    const before = morningsOf(seed, systemId).filter(({ at }) => at < since);
    const usual = mean(before.map(({ nitrate }) => nitrate));
    const points = after.map(({ at, nitrate }) => ({ time: dayOf(at), value: nitrate }));
    const slope = theilSen(points).slope ?? Number.NaN;
    expect((7 * slope) / usual).toBeGreaterThan(0.1);
    expect((7 * slope) / usual).toBeLessThan(0.14);
    expect(Math.max(...after.map(({ nitrate }) => nitrate))).toBeLessThan(20);
  });

  test('the published design of the creep rule finds that system and no other', () => {
    const rises = tables.system.map((system) => {
      const of = <T extends { systemId: string }>(rows: T[]) =>
        rows.filter(({ systemId }) => systemId === system.id);
      const readings = of(tables.reading).filter(
        ({ quantityCode, trust }) => quantityCode === 'nitrate' && trust !== 'refuted',
      );
      const track = trackNitrate(
        {
          readings: readings.map(({ at, value }) => ({ day: dayOf(at), value, relativeSd: 0.1 })),
          changes: of(tables.waterChange).map(({ at, volumeL }) => ({
            day: dayOf(at),
            fraction: volumeL / system.volumeL,
            makeUp: 0.5,
          })),
        },
        dayOf(NOW),
      );
      return { id: system.id, rise: track.now ? nitrateRise(track.now) : null };
    });
    const found = rises.filter(({ rise }) => (rise ?? 0) >= 1.3).map(({ id }) => id);
    expect(found).toEqual(planted(seed, 'nitrate-creep').subjectIds);
  });

  test('the swing of alkalinity has more than tripled since the doser failed, its mean within the band', () => {
    const { systemId, since } = planted(seed, 'alkalinity-unsteady');
    const levels = (from: (at: Date) => boolean) =>
      morningsOf(seed, systemId)
        .filter(({ at }) => from(at))
        .map(({ alkalinity }) => alkalinity / DKH);
    const [before, after] = [levels((at) => at < since), levels((at) => at >= since)];
    expect(spread(after.slice(1)) / spread(before.slice(-60))).toBeGreaterThan(3);
    expect(Math.min(...after)).toBeGreaterThan(7);
    expect(Math.max(...after)).toBeLessThan(10);
  });

  test('the watch on swing finds it, and neither the creeping nor the calm system', () => {
    const sums = new Map(
      tables.system.map(({ id }) => {
        const steps = watchSwing(
          tables.reading
            .filter((r) => r.systemId === id && r.quantityCode === 'alkalinity' && r.trust !== 'refuted')
            .map(({ at, value, uncertainty, trust }) => ({
              day: dayOf(at),
              value,
              sd: uncertainty,
              confirmed: trust === 'confirmed',
            })),
          swingOptions(DKH),
        );
        return [id, steps.at(-1)?.sum ?? 0];
      }),
    );
    expect(sums.get(planted(seed, 'alkalinity-unsteady').systemId)).toBeGreaterThan(4);
    expect(sums.get(planted(seed, 'nitrate-creep').systemId)).toBeLessThan(3);
    expect(sums.get(truth.calmSystemId)).toBeLessThan(3);
  });

  test('one kit reads 10 % low while its water is steady, and only its checks say so', () => {
    const { subjectIds, systemId, since } = planted(seed, 'kit-biased');
    const water = morningsOf(seed, systemId).map(({ at, alkalinity }) => ({ at, dkh: alkalinity / DKH }));
    expect(spread(water.map(({ dkh }) => dkh))).toBeLessThan(0.2);
    const read = (after: boolean) =>
      mean(
        tables.reading
          .filter(
            (r) =>
              r.systemId === systemId &&
              r.quantityCode === 'alkalinity' &&
              r.trust !== 'refuted' &&
              r.at >= since === after,
          )
          .map(({ value }) => value),
      );
    expect(read(true) / read(false)).toBeCloseTo(0.9, 1);
    const verdicts = tables.kit
      .filter(({ retiredAt, quantityCode }) => !retiredAt && quantityCode === 'alkalinity')
      .map((kit) => ({
        id: kit.id,
        verdict: judgeKit([checkError(occasions(seed, kit.id), 0.024)]).verdict,
      }));
    expect(verdicts.filter(({ verdict }) => verdict !== 'no sign')).toEqual(
      subjectIds.map((id) => ({ id, verdict: 'reads low' })),
    );
  });

  test('several lots stand too bright since the lamps were turned up, and some of them pale', () => {
    const { subjectIds, since } = planted(seed, 'too-much-light');
    const paling = new Set(
      tables.condition.filter(({ state }) => state === 'paling').map(({ lotId }) => lotId),
    );
    expect(subjectIds.length).toBeGreaterThan(5);
    expect(paling.size).toBeGreaterThan(2);
    expect(paling.size).toBeLessThan(subjectIds.length);
    for (const lotId of paling) expect(subjectIds).toContain(lotId);
    expect(tables.lampSetting.filter(({ at }) => new Date(at) >= since)).toHaveLength(1);
  });
});

function occasions(seed: number, kitId: string) {
  const checks = farmOf(seed).tables.checkReading.filter((check) => check.kitId === kitId);
  return [...Map.groupBy(checks, ({ at }) => Math.floor(dayOf(at))).values()].map((tests) => ({
    tests: tests.map(({ value }) => value),
    known: tests[0]?.standardValue ?? Number.NaN,
    knownSd: 0.01,
  }));
}
