import { describe, expect, test } from 'vitest';
import { tapTime } from '../../src/rounds/entries/tap-time.rules.ts';

const now = new Date('2026-11-24T08:30:00Z');
const round = { startedAt: new Date('2026-11-24T07:30:00Z') };
const hours = (n: number) => new Date(now.getTime() + n * 3_600_000);
const took = (at: Date | null, deviceNow: Date | null, startedAt = round.startedAt) =>
  tapTime({ at, deviceNow }, { startedAt }, now);

describe('when something was tapped', () => {
  test('a form without a device is now', () => {
    expect(took(null, null)).toEqual({ at: now, clock: null });
  });

  test('a device whose clock is right is believed, however long it had no network', () => {
    const tapped = hours(-50);
    expect(took(tapped, now, hours(-51))).toEqual({ at: tapped, clock: null });
  });

  test.each([
    [3, '3 h ahead'],
    [1.5, '90 min ahead'],
    [-72, '72 h behind'],
  ])('a clock that is %s hours off is put right by the difference', (off, words) => {
    const { at, clock } = took(hours(off - 0.5), hours(off));
    expect(at).toEqual(hours(-0.5));
    expect(clock).toBe(`the tablet's clock was ${words}`);
  });

  test('a device that does not show its clock is not believed in the future, nor more than a day back', () => {
    expect(took(hours(1), null)).toMatchObject({ at: now, clock: expect.stringContaining('future') });
    expect(took(hours(-25), null, hours(-30))).toMatchObject({
      at: now,
      clock: expect.stringContaining('a day'),
    });
    expect(took(hours(-23), null, hours(-30))).toEqual({ at: hours(-23), clock: null });
  });

  test('nothing was tapped before its round began', () => {
    expect(took(hours(-2), now)).toMatchObject({
      at: now,
      clock: expect.stringContaining('before the round'),
    });
  });

  test('a few minutes mean nothing, and no time kept lies ahead', () => {
    expect(took(new Date(now.getTime() + 60_000), null)).toEqual({ at: now, clock: null });
  });
});
