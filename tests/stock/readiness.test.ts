import { describe, expect, test } from 'vitest';
import { libraryKinds } from '../../seed/library.ts';
import type { Care } from '../../src/stock/kinds/care.ts';
import { notReadyReasons, type SaleFacts } from '../../src/stock/sales/readiness.rules.ts';

const now = new Date('2026-11-24T08:00:00Z');
const daysAgo = (days: number) => new Date(now.getTime() - days * 86_400_000);

// The figures are the library's own: 30 days to heal, 20 mm, 30 days kept back (common practice, seed/care/common.json).
const care = libraryKinds()[0]?.care as unknown as Care;

const healed: SaleFacts = {
  pieces: 6,
  held: 0,
  isMother: false,
  sizeMm: 35,
  cutAt: daysAgo(60),
  arrivedAt: daysAgo(60),
  look: { state: 'well', grade: null, at: daysAgo(1) },
  alerts: [],
  quarantineUntil: null,
  inQuarantineTank: false,
  pests: [],
  noteWaits: false,
  acclimating: false,
};
const reasons = (facts: Partial<SaleFacts>) =>
  notReadyReasons({ ...healed, ...facts }, care, now, 'UTC').map(({ text }) => text);

describe('a lot', () => {
  test('that is healed, large enough, seen well and without alert or hold is ready', () => {
    expect(reasons({})).toEqual([]);
  });

  test.each<[string, Partial<SaleFacts>, string]>([
    ['freshly cut', { cutAt: daysAgo(12) }, 'Cut 12 days ago; given 30 days to heal.'],
    [
      'that came lately from elsewhere',
      { cutAt: null, arrivedAt: daysAgo(3) },
      'Came 3 days ago; kept back for 30 days.',
    ],
    ['that is small', { sizeMm: 12 }, '12 mm; sold from 20 mm.'],
    ['of unknown size', { sizeMm: null }, 'Nobody noted its size.'],
    ['kept for cutting', { isMother: true }, 'It is kept as a mother.'],
    ['held whole', { held: 6 }, 'All pieces are held for buyers.'],
    [
      'that recedes',
      { look: { state: 'receding', grade: 1, at: daysAgo(1) } },
      'Receding, a little at the last look.',
    ],
    [
      'nobody looked at for long',
      { look: { state: 'well', grade: null, at: daysAgo(20) } },
      'Last looked at 20 days ago.',
    ],
    ['never looked at', { look: null }, 'Nobody has noted how it looks.'],
    ['with an alert', { alerts: ['brighter than it is used to'] }, 'Alert: brighter than it is used to'],
    ['kept apart', { quarantineUntil: new Date('2026-12-01') }, 'Kept apart until 1 Dec 2026.'],
    ['in a quarantine tank', { inQuarantineTank: true }, 'It is in a quarantine tank.'],
    [
      'in water under watch for a pest',
      { pests: ['acropora_flatworm'] },
      'Its water is under watch for a pest: Acropora-eating flatworm.',
    ],
    ['on its way to other light', { acclimating: true }, 'It is being acclimated to other light.'],
  ])('%s is not, and says why', (_, facts, text) => {
    expect(reasons(facts)).toEqual([text]);
  });

  test.each<[string, Partial<SaleFacts>]>([
    ['cut as many days ago as it takes to heal', { cutAt: daysAgo(30) }],
    ['cut here: the days for lots from elsewhere do not count', { arrivedAt: daysAgo(1) }],
    ['that came as many days ago as lots are kept back', { cutAt: null, arrivedAt: daysAgo(30) }],
    ['of exactly the size that is sold', { sizeMm: 20 }],
    ['last looked at a week ago', { look: { state: 'well', grade: null, at: daysAgo(7) } }],
    ['held in part', { held: 5 }],
    ['that was kept apart until now', { quarantineUntil: now }],
  ])('%s is ready', (_, facts) => {
    expect(reasons(facts)).toEqual([]);
  });

  test.each<[string, Partial<SaleFacts>, string]>([
    ['cut a day too late', { cutAt: daysAgo(29) }, 'Cut 29 days ago; given 30 days to heal.'],
    ['cut today', { cutAt: now }, 'Cut today; given 30 days to heal.'],
    ['a millimetre too small', { sizeMm: 19 }, '19 mm; sold from 20 mm.'],
    ['with no pieces left', { pieces: 0 }, 'No pieces are left.'],
    [
      'last looked at eight days ago',
      { look: { state: 'well', grade: null, at: daysAgo(8) } },
      'Last looked at 8 days ago.',
    ],
    [
      'kept apart in a quarantine tank',
      { quarantineUntil: new Date('2026-12-01'), inQuarantineTank: true },
      'Kept apart until 1 Dec 2026.',
    ],
  ])('%s is not ready, for one reason', (_, facts, text) => {
    expect(reasons(facts)).toEqual([text]);
  });

  test('says every reason at once, each with where its figure comes from', () => {
    const all = notReadyReasons(
      { ...healed, cutAt: daysAgo(2), sizeMm: 5, isMother: true },
      care,
      now,
      'UTC',
    );
    expect(all.map(({ what }) => what)).toEqual(['mother', 'size', 'healing']);
    expect(all[2]?.source).toContain('growers');
  });

  test('whose kind states no figures is not kept back by them', () => {
    expect(notReadyReasons({ ...healed, sizeMm: null, cutAt: daysAgo(0) }, {}, now, 'UTC')).toEqual([]);
  });
});
