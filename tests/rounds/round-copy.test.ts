import { describe, expect, test } from 'vitest';
import { renewRound, showing } from '../../src/browser/store/round-copy.ts';
import type { QueuedEntry, TabletRound } from '../../src/browser/store/types.ts';

/** A service whose screens have these marks, and that draws so many of them in one answer. */
function serviceWith(marks: Record<string, string>, atOnce = 2) {
  const asked: string[][] = [];
  const state = { marks, away: false };
  const draw = async (paths: readonly string[]) => {
    asked.push([...paths]);
    if (state.away) return { ok: false as const, trouble: 'away' as const };
    const known = paths.filter((path) => path in state.marks).slice(0, atOnce);
    const pages = Object.fromEntries(
      known.map((path) => [path, { title: path, html: `${path} ${state.marks[path]}` }]),
    );
    const screens = Object.entries(state.marks).map(([path, mark]) => ({ path, mark }));
    return { ok: true as const, value: { ...head, screens, pages } };
  };
  return { draw, asked, state };
}

const head: TabletRound = {
  ...{ id: 'round', latest: 'later', drawnAt: '2026-11-24T08:00:00Z', csrf: 'token' },
  person: { id: 'ana', name: 'Ana' },
  ...{ racks: [], refused: [], off: [], pages: {} },
};
const nothing = async () => undefined;
const htmlOf = (round: TabletRound) => Object.values(round.pages).map(({ html }) => html);
const whole = async (draw: Parameters<typeof renewRound>[1]) => {
  const got = await renewRound({ copy: undefined, screens: ['b'], allChanged: false }, draw, nothing);
  if (!got.ok) throw new Error('nothing came');
  return got.value;
};

describe('the copy of a round on a tablet', () => {
  test('has every screen in the end, the one that is looked at first', async () => {
    const { draw, asked } = serviceWith({ a: '1', b: '1', c: '1', d: '1' });
    expect(htmlOf(await whole(draw))).toEqual(['a 1', 'b 1', 'c 1', 'd 1']);
    expect(asked[0]).toEqual(['b']);
  });

  test('what came stays when the network goes meanwhile, and the rest comes later', async () => {
    const service = serviceWith({ a: '1', b: '1', c: '1', d: '1', e: '1' });
    let kept: TabletRound | undefined;
    const keep = async (copy: TabletRound) => {
      kept = copy;
      service.state.away = Object.keys(copy.pages).length >= 3;
    };
    const wanted = { copy: undefined, screens: ['b'], allChanged: false };
    expect((await renewRound(wanted, service.draw, keep)).ok).toBe(false);
    expect(htmlOf(kept as TabletRound)).toHaveLength(3);
    expect(kept?.latest, 'it is not taken for the newest').toBe('');
    service.state.away = false;
    service.asked.length = 0;
    const again = await renewRound({ ...wanted, copy: kept }, service.draw, nothing);
    expect(again.ok && htmlOf(again.value)).toHaveLength(5);
    expect(service.asked.flat().filter((path) => path in (kept?.pages ?? {}))).toEqual(['b']);
  });

  test('draws again what is wanted, and one of those that others changed', async () => {
    const service = serviceWith({ a: '1', b: '1', c: '1', d: '1', e: '1' });
    const copy = await whole(service.draw);
    service.state.marks = { a: '2', b: '1', c: '2', d: '2', e: '2' };
    service.asked.length = 0;
    const got = await renewRound(
      { copy, screens: ['b', 'a', 'e'], allChanged: false },
      service.draw,
      nothing,
    );
    expect(got.ok && htmlOf(got.value)).toEqual(['a 2', 'b 1', 'c 2', 'd 1', 'e 2']);
    const rest = await renewRound(
      { copy: got.ok ? got.value : copy, screens: [], allChanged: true },
      service.draw,
      nothing,
    );
    expect(rest.ok && htmlOf(rest.value)).toEqual(['a 2', 'b 1', 'c 2', 'd 2', 'e 2']);
  });

  test('lets go of a screen that the round has no more', async () => {
    const service = serviceWith({ a: '1', b: '1', c: '1' });
    const copy = await whole(service.draw);
    service.state.marks = { a: '1', c: '1' };
    const got = await renewRound({ copy, screens: ['b'], allChanged: false }, service.draw, nothing);
    expect(got.ok && htmlOf(got.value)).toEqual(['a 1', 'c 1']);
  });

  test('ends though a screen never comes', async () => {
    const service = serviceWith({ a: '1', b: '1' });
    const draw = async (paths: readonly string[]) => service.draw(paths.filter((path) => path !== 'a'));
    const got = await renewRound({ copy: undefined, screens: ['b'], allChanged: false }, draw, nothing);
    expect(got.ok && htmlOf(got.value)).toEqual(['b 1']);
  });
});

test('what was tapped shows on its rack, its system and how far the round is', () => {
  const kept = (fields: Record<string, string>): QueuedEntry =>
    ({
      id: '1',
      roundId: 'r',
      standing: 'taken',
      tried: true,
      why: '',
      entry: fields,
    }) as unknown as QueuedEntry;
  expect(showing('r', [])).toEqual({ screens: [], allChanged: false });
  expect(showing('r', [kept({ rackId: 'k', lotId: 'l' }), kept({ systemId: 's' })])).toEqual({
    screens: [
      '/rounds/r/racks/k',
      '/rounds/r/systems/s',
      '/rounds/r/systems/s/tests',
      '/rounds/r',
      '/rounds/r/end',
    ],
    allChanged: false,
  });
  expect(showing('r', [kept({ kind: 'take_back', entryId: 'e' })]).allChanged).toBe(true);
});
