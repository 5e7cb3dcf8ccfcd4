import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/science/statistics/random.ts';
import type { RackShots } from '../../src/stock/rack-photographs/measures.ts';
import type { LotFact } from '../../src/watch/facts/types.ts';
import { conditionNoted } from '../../src/watch/rules/lots/condition-noted.ts';
import { lightening } from '../../src/watch/rules/lots/lightening.ts';
import { rackShiftRule } from '../../src/watch/rules/lots/rack-shift.ts';
import { FarmSettings } from '../../src/watch/settings/settings.rules.ts';
import { blankLot, blankSystem, dayZero, find, firing, onDay } from './facts.ts';
import { blankRack, look } from './kinds.ts';

const lots = Array.from({ length: 12 }, (_, i) => blankLot({ id: `lot ${i}`, code: `247-6T${i}` }));
const weeks = 10;

/** Ten weekly photographs of the rack, on days 0 to 63; `by` says how much lighter than 40 + n a lot is in one. */
function photographs(by: (lot: number, visit: number) => number): RackShots {
  const random = seededRandom(2);
  const shots = Array.from({ length: weeks }, (_, visit) => ({
    id: `photograph ${visit}`,
    ...{ day: dayZero + 7 * visit, at: onDay(7 * visit).toISOString() },
    lots: new Map(
      lots.map(({ id }, lot) => [id, { L: 40 + lot + by(lot, visit) + 0.4 * random.normal(), u: 0.5 }]),
    ),
  }));
  return { rackId: 'rack', rackName: 'N3', systemId: 'system', shots };
}
const world = (by: (lot: number, visit: number) => number, mine: Partial<LotFact> = {}) =>
  blankSystem({
    lots: lots.map((lot, i) => (i === 3 ? { ...lot, ...mine } : lot)),
    racks: [blankRack({ id: 'rack', name: 'N3' })],
    photographs: [photographs(by)],
  });
const paled = (lot: number, visit: number) => (lot === 3 && visit >= 8 ? 5 : 0);

describe('a lot that photographs show lighter', () => {
  test('asks for a look, says by how much and against what, and never says act now', () => {
    const [found, ...others] = firing(find(lightening, world(paled), 64));
    expect(others).toEqual([]);
    expect(found).toMatchObject({
      subject: { type: 'lot', id: 'lot 3' },
      severity: 'watch',
      title: expect.stringContaining('lighter in two photographs'),
      evidence: [{ id: 'photograph 9' }, { id: 'photograph 8' }],
    });
    expect(found?.numbers).toMatch(/^[45]\.\d L\* lighter than its own line, [789] % of the way to white$/);
    expect(found?.began).toEqual({ from: onDay(49).toISOString(), to: onDay(56).toISOString() });
    const much = firing(
      find(
        lightening,
        world((lot, visit) => 9 * paled(lot, visit)),
        64,
      ),
    );
    expect(much.map(({ severity }) => severity)).toEqual(['today']);
  });

  test('is borne out by photographs only as far as the farm asks of them', () => {
    const asked = (settings: Record<string, number>) => {
      const scope = { systemId: null, kindId: null, scopeName: null };
      const row = { rule: 'lightening', settings, ...scope, reason: 'tried', at: onDay(0), who: 'Ines' };
      const facts = world(paled, { conditions: [look(55, 'paling', 1)] });
      const here = new FarmSettings([row]).here(conditionNoted, facts.systemId);
      const [found] = conditionNoted.evaluate(facts, here, onDay(64));
      return found?.figures.find(({ label }) => label === 'Photographs')?.text ?? '';
    };
    expect(asked({})).toContain('bear it out');
    expect(asked({ share: 30 })).toContain('show no lightening');
  });

  test('says the limits that the farm has set, and is weighed by them', () => {
    const [found] = firing(find(lightening, world(paled), 64, { share: 4, sure: 2 }));
    expect(found?.limit).toMatchObject({ value: 4, unit: '%' });
    expect(found?.score).toBeCloseTo((found?.number.value ?? 0) / 4, 10);
    expect(found?.figures.find(({ label }) => label === 'How sure')?.text).toContain('told from 2.0 on');
    expect(firing(find(lightening, world(paled), 64, { share: 30 }))).toEqual([]);
    const all = world((_, visit) => (visit >= 8 ? 6 : 0));
    const [shift] = firing(find(rackShiftRule, all, 64, { least: 3 }));
    expect(shift?.limit).toMatchObject({ value: 3 });
  });

  test('asks nothing after one photograph, nor two months after the last', () => {
    expect(
      find(
        lightening,
        world((lot, visit) => (visit === 9 ? paled(lot, visit) : 0)),
        64,
      ),
    ).toEqual([]);
    expect(find(lightening, world(paled), 125)).toEqual([]);
  });

  test('asks nothing once somebody looked and found it well, until it gets lighter still', () => {
    const well = { conditions: [look(64, 'well', null)] };
    expect(find(lightening, world(paled, well), 65)).toEqual([]);
  });

  test('is part of its alert where somebody noted it pale, which photographs strengthen or weaken', () => {
    const pale = { conditions: [look(60, 'paling', 1)] };
    const noted = (by: typeof paled) => find(conditionNoted, world(by, pale), 64)[0];
    const [found] = firing(find(lightening, world(paled, pale), 64));
    expect(found?.causes[0]).toEqual({
      rule: 'condition-noted',
      subject: { type: 'lot', id: 'lot 3' },
      facet: '',
    });
    const [borne, without] = [noted(paled), noted(() => 0)];
    const said = (one: typeof borne) => one?.figures.find(({ label }) => label === 'Photographs')?.text;
    expect(said(borne)).toContain('bear it out');
    expect(said(without)).toContain('show no lightening');
    expect(borne?.score).toBeGreaterThan(without?.score ?? Infinity);
    // What an eye saw stays as urgent as it was.
    expect(borne?.severity).toBe(without?.severity);
    const alone = find(conditionNoted, { ...world(paled, pale), photographs: [] }, 64)[0];
    expect(said(alone)).toBeUndefined();
  });

  test('is told of its rack where several are, and of the rack alone where all are', () => {
    const several = firing(
      find(
        lightening,
        world((lot, visit) => (lot < 4 && visit >= 8 ? 5 : 0)),
        64,
      ),
    );
    expect(several.map(({ subject }) => subject)).toEqual([{ type: 'rack', id: 'rack' }]);
    expect(several[0]?.lots).toHaveLength(4);
    // Of lots that no photograph shows nothing is known, so nothing is said of the others.
    expect(several[0]?.numbers).toMatch(/^up to \d+ % of the way to white, beyond what the rack shares$/);
    const all = world((_, visit) => (visit >= 8 ? 6 : 0));
    expect(firing(find(lightening, all, 64))).toEqual([]);
    const [shift, ...more] = firing(find(rackShiftRule, all, 64));
    expect(more).toEqual([]);
    expect(shift).toMatchObject({ subject: { type: 'rack', id: 'rack' }, severity: 'watch' });
    expect(shift?.why).toContain('photographs alone cannot say which');
    expect(shift?.firstStep).toContain('Look at three of its lots by eye first.');
  });

  test('does not take a darker rack for paling', () => {
    const darker = world((_, visit) => (visit >= 8 ? -6 : 0));
    expect(firing(find(lightening, darker, 64))).toEqual([]);
    const [shift] = firing(find(rackShiftRule, darker, 64));
    expect(shift?.title).toContain('look darker');
    expect(shift?.why).not.toContain('paling');
  });
});
