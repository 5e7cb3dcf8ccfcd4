import { describe, expect, test } from 'vitest';
import { LAYOUT } from '../../../seed/demo/layout.ts';
import { simulate } from '../../../seed/demo/simulate.ts';
import { libraryKinds } from '../../../seed/library.ts';
import { canonicalUnit, convert } from '../../../src/science/units/convert.ts';
import { readCode } from '../../../src/stock/base/codes.ts';
import { dayOf, farmOf, NOW } from './farms.ts';

const SEED = 20_261;
const { tables, truth } = farmOf(SEED);
const kinds = new Map(libraryKinds().map((kind) => [kind.code, kind]));

describe('the simulator', () => {
  test('gives the same farm for the same seed and now, and another for another', () => {
    expect(simulate({ seed: SEED, now: NOW })).toEqual(farmOf(SEED));
    expect(simulate({ seed: 7, now: NOW }).tables.reading[99]?.value).not.toBe(tables.reading[99]?.value);
  });

  test.each(['2026-03-29T05:00:00Z', '2026-10-25T00:30:00Z', '2027-01-01T23:59:00Z'])(
    'ends today, whatever the hour (%s): nothing lies ahead, the last tests are fresh',
    (now) => {
      const farm = simulate({ seed: 4, now: new Date(now) });
      const times = [
        ...farm.tables.reading.map(({ at }) => at),
        ...farm.tables.dose.map(({ at }) => at),
        ...farm.tables.feeding.map(({ at }) => at),
        ...farm.tables.roundEntry.map(({ at }) => at),
        ...farm.tables.condition.map(({ at }) => at),
        ...farm.tables.ledgerEntry.map(({ at }) => at),
      ];
      expect(times.filter((at) => at > new Date(now))).toEqual([]);
      for (const { id } of farm.tables.system) {
        const last = farm.tables.reading
          .filter((r) => r.systemId === id && r.quantityCode === 'alkalinity')
          .at(-1);
        expect(dayOf(now) - dayOf(last?.at ?? '')).toBeLessThan(1);
      }
    },
  );
});

describe('the farm', () => {
  test('has four systems, nine tanks, two dozen racks and some 260 lots of 40 kinds', () => {
    expect([tables.system.length, tables.tank.length, tables.rack.length]).toEqual([4, 9, 24]);
    const living = tables.placement.filter(({ toAt }) => toAt === null).length;
    expect(living).toBeGreaterThan(240);
    expect(living).toBeLessThan(290);
    expect(new Set(tables.lot.map(({ kindCode }) => kindCode)).size).toBeGreaterThanOrEqual(40);
  });

  test('keeps only kinds that the library knows, each with a column between it and the next', () => {
    for (const rack of LAYOUT.flatMap((s) => s.tanks.flatMap((t) => t.lamps.flatMap((l) => l.racks)))) {
      for (const kind of rack.kinds) expect(kinds.has(kind), kind).toBe(true);
    }
    for (const { column, kind, others } of neighbours()) {
      expect(others, `${kind} in column ${column}`).toEqual([]);
    }
  });

  test('has what a layout must bear: long names, an empty rack', () => {
    // As long as the form of a tank takes.
    expect(Math.max(...tables.tank.map(({ name }) => name.length))).toBe(60);
    expect(Math.max(...tables.rack.map(({ name }) => name.length))).toBeGreaterThan(45);
    const used = new Set(
      tables.placementSlot.map(({ slotId }) => tables.slot.find(({ id }) => id === slotId)?.rackId),
    );
    expect(tables.rack.filter(({ id }) => !used.has(id))).toHaveLength(1);
  });

  test('has a doubtful name, a renamed mother, a mother cut several times, pieces sold and lost', () => {
    expect(tables.identification.some((opinion) => opinion.identificationQualifier === 'cf.')).toBe(true);
    const opinions = Map.groupBy(tables.identification, ({ lotId }) => lotId);
    expect([...opinions.values()].some((all) => all.length === 2)).toBe(true);
    const cuts = Map.groupBy(tables.cut, ({ fromLotId }) => fromLotId);
    expect(Math.max(...[...cuts.values()].map((all) => all.length))).toBeGreaterThanOrEqual(3);
    const reasons = new Set(tables.ledgerEntry.map(({ reason }) => reason));
    for (const reason of ['received', 'cut_in', 'cut_out', 'lost', 'sold', 'split', 'merged', 'recount']) {
      expect(reasons).toContain(reason);
    }
  });

  test('labels every lot with a code of its own that reads back', () => {
    expect(new Set(tables.lot.map(({ code }) => code)).size).toBe(tables.lot.length);
    for (const { code } of tables.lot) expect(readCode(code)).toEqual({ ok: true, code });
  });
});

describe('its books', () => {
  test('no lot stands in two places at a time, and no slot holds two lots', () => {
    const slots = Map.groupBy(tables.placementSlot, ({ placementId }) => placementId);
    const stays = tables.placement.flatMap((placement) =>
      [placement.lotId, ...(slots.get(placement.id) ?? []).map(({ slotId }) => slotId)].map((where) => ({
        where,
        from: placement.fromAt,
        to: placement.toAt ?? new Date(8.64e15),
      })),
    );
    for (const all of Map.groupBy(stays, ({ where }) => where).values()) {
      const sorted = all.sort((a, b) => a.from.getTime() - b.from.getTime());
      sorted.slice(1).forEach(({ from }, i) => {
        expect(from.getTime()).toBeGreaterThanOrEqual(sorted[i]?.to.getTime() ?? 0);
      });
    }
  });

  test('no lot ever has fewer than no pieces', () => {
    for (const entries of Map.groupBy(tables.ledgerEntry, ({ lotId }) => lotId).values()) {
      let pieces = 0;
      for (const { change } of entries.toSorted((a, b) => a.at.getTime() - b.at.getTime())) {
        pieces += change;
        expect(pieces).toBeGreaterThanOrEqual(0);
      }
    }
  });

  test('every reading holds what its text and unit say', () => {
    for (const { quantityCode, enteredText, enteredUnit, value } of tables.reading) {
      const typed = Number(enteredText.replace('<', ''));
      expect(convert(quantityCode, typed, enteredUnit, canonicalUnit(quantityCode))).toBeCloseTo(value, 9);
    }
  });

  test('a refuted reading was refuted by a repeat some minutes later', () => {
    const refuted = tables.reading.filter(({ trust }) => trust === 'refuted');
    expect(refuted.length).toBeGreaterThan(0);
    for (const { settledById, at } of refuted) {
      const repeat = tables.reading.find(({ id }) => id === settledById);
      expect(((repeat?.at.getTime() ?? 0) - at.getTime()) / 60_000).toBe(8);
    }
  });
});

describe('what is calm', () => {
  test('stays within its bands, the calm system in everything', () => {
    const bands = tables.systemQuantity.filter(({ systemId }) => systemId === truth.calmSystemId);
    const { mornings } = truth.systems.find(({ systemId }) => systemId === truth.calmSystemId) ?? {};
    for (const { quantityCode, bandLow, bandHigh } of bands) {
      const levels = (mornings ?? []).map((morning) => morning[quantityCode as 'nitrate']);
      expect(Math.min(...levels), quantityCode).toBeGreaterThan(bandLow ?? 0);
      expect(Math.max(...levels), quantityCode).toBeLessThan(bandHigh ?? Number.NaN);
    }
  });

  test('outside the bright rack every slot in use is lit as its kind wants it', () => {
    const light = new Map(tables.slotLight.map(({ slotId, par }) => [slotId, par]));
    for (const { kind, slotId, rackId } of standing()) {
      if (rackId === truth.brightRackId) continue;
      const { low = 0, high = 0 } = kinds.get(kind)?.care.par_range ?? {};
      expect(light.get(slotId), kind).toBeGreaterThanOrEqual(low);
      expect(light.get(slotId), kind).toBeLessThanOrEqual(high);
    }
  });

  test('the flow suits every kind, and no jet strikes flesh', () => {
    const order = ['still', 'low', 'medium', 'high'];
    const slots = new Map(tables.slot.map((slot) => [slot.id, slot]));
    for (const { kind, slotId } of standing()) {
      const { flow, jet } = slots.get(slotId) ?? {};
      const care = kinds.get(kind)?.care;
      expect(order.indexOf(flow ?? ''), kind).toBeGreaterThanOrEqual(care?.flow?.low ?? 0);
      expect(order.indexOf(flow ?? ''), kind).toBeLessThanOrEqual(care?.flow?.high ?? 0);
      if (jet) expect(care?.jet?.words).toBe('tolerated');
    }
  });

  test('every kit in use is in date and was checked within four weeks', () => {
    for (const { id, expiresOn, retiredAt } of tables.kit) {
      if (retiredAt) continue;
      const last = Math.max(
        ...tables.checkReading.filter(({ kitId }) => kitId === id).map(({ at }) => dayOf(at)),
      );
      expect(dayOf(NOW) - last).toBeLessThan(28);
      expect(dayOf(String(expiresOn))).toBeGreaterThan(dayOf(NOW));
    }
  });

  test('nothing has waited too long for food', () => {
    for (const { id } of tables.tank) {
      const fed = tables.feeding.filter(({ tankId }) => tankId === id).map(({ at }) => dayOf(at));
      expect(Math.max(...fed.slice(1).map((at, i) => at - (fed[i] ?? 0)))).toBeLessThan(4.2);
      expect(dayOf(NOW) - (fed.at(-1) ?? 0)).toBeLessThan(4.2);
    }
  });
});

/** The slots in use today, with the kind that stands there. */
function standing() {
  const slots = new Map(tables.slot.map((slot) => [slot.id, slot]));
  const lots = new Map(tables.lot.map((lot) => [lot.id, lot]));
  return tables.placement
    .filter(({ toAt }) => toAt === null)
    .flatMap(({ id, lotId }) =>
      tables.placementSlot
        .filter(({ placementId }) => placementId === id)
        .map(({ slotId }) => ({
          kind: lots.get(lotId)?.kindCode ?? '',
          slotId,
          rackId: slots.get(slotId)?.rackId,
          column: slots.get(slotId)?.column ?? 0,
        })),
    );
}

/** Each slot in use with the other kinds in its own and the next columns. */
function neighbours() {
  const all = standing();
  return all.map(({ kind, rackId, column }) => ({
    kind,
    column,
    others: all
      .filter((o) => o.rackId === rackId && o.kind !== kind && Math.abs(o.column - column) < 2)
      .map((other) => other.kind),
  }));
}
