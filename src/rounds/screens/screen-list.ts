import { createHash } from 'node:crypto';
import type { Service } from '../../platform/service.ts';
import { freshForm } from '../../platform/web/forms.ts';
import { lotsByRack, type RoundSheet } from '../round/round-sheet.ts';
import { testRows } from '../round/test-rows.ts';
import { feedingChoices } from '../round/tests-and-feedings.ts';
import { countPath, racksToCount } from './count-rows.ts';
import { countScreen } from './count-screen.ts';
import { endScreen } from './end-screen.ts';
import {
  overviewScreen,
  rackPath,
  rackScreen,
  roundPath,
  type Screen,
  systemPath,
  testsPath,
} from './screens.ts';
import { systemScreen } from './system-screen.ts';
import { testsScreen } from './tests-screen.ts';

/** A screen of a round by its address: what it shows, of which rack or system. */
export interface ScreenPlace {
  path: string;
  of: 'round' | 'rack' | 'system' | 'tests' | 'count' | 'end';
  id: string;
  /** Changes when what the screen shows does, as far as the sheet tells. */
  mark: string;
  /** How much there is to draw, in lots. */
  weight: number;
}

/** What a screen without lots weighs, in lots (the tests of a system are some 35 kB, a lot 1.6). */
const bareWeight = 20;

/** Every screen of a round, in walking order. */
export function screenPlaces(sheet: RoundSheet): ScreenPlace[] {
  const { id } = sheet.round;
  const marks = marksOf(sheet);
  const lots = new Map(sheet.racks.map((rack) => [rack.id, rack.lots]));
  const place = (of: ScreenPlace['of'], path: string, one: string): ScreenPlace => ({
    ...{ path, of, id: one, mark: marks[of](one) },
    weight: bareWeight + (lots.get(one) ?? 0),
  });
  return [
    place('round', roundPath(id), id),
    ...sheet.racks.map((rack) => place('rack', rackPath(id, rack.id), rack.id)),
    ...sheet.systems.map((one) => place('system', systemPath(id, one.id), one.id)),
    ...sheet.systems.map((one) => place('tests', testsPath(id, one.id), one.id)),
    ...racksToCount(sheet).map((rack) => place('count', countPath(id, rack.id), rack.id)),
    place('end', `${roundPath(id)}/end`, id),
  ];
}

const markOf = (...shown: unknown[]) =>
  createHash('sha256').update(JSON.stringify(shown)).digest('base64url').slice(0, 8);

/** What each kind of screen is marked by: all that the sheet has of it, but no words that change with the hour. */
function marksOf(sheet: RoundSheet): Record<ScreenPlace['of'], (id: string) => string> {
  const { round, notes, tasks, tested, fed, chores, off, repeats, photographs, count } = sheet;
  const ended = round.finishedAt;
  const [byRack, bySystem] = [
    Map.groupBy(notes, ({ rackId }) => rackId),
    Map.groupBy(notes, ({ systemId }) => systemId),
  ];
  const racks = new Map(sheet.racks.map((rack) => [rack.id, rack]));
  const here = <T extends { systemId: string | null }>(all: readonly T[], id: string) =>
    all.filter(({ systemId }) => systemId === id);
  const counted = new Map(count?.racks.map((rack) => [rack.id, rack]));
  const rack = (id: string) =>
    markOf(ended, byRack.get(id), racks.get(id), photographs.get(id), counted.get(id));
  const water = (id: string) => [ended, bySystem.get(id), here(tested, id), here(repeats, id)];
  const all = markOf(ended, notes, sheet.racks, tasks, tested, fed, chores, off, count?.racks);
  return {
    round: () => all,
    rack,
    system: (id) => markOf(water(id), here(tasks, id), here(fed, id), here(chores, id), here(off, id)),
    tests: (id) => markOf(water(id)),
    count: (id) => markOf(rack(id), count?.lots.get(id)),
    end: () => all,
  };
}

/**
 * Screens of one answer, in lots (own choice: some 600 kB, five full racks): what all screens share, the sheet of the round, is
 * read once an answer, so that a tablet that fetches a whole round waits for few.
 */
const mostAtOnce = 400;

/** As many of these, from the first on, as one answer holds: at least one. */
export function oneAnswer(places: readonly ScreenPlace[]): ScreenPlace[] {
  let weight = 0;
  const tooMany = places.findIndex((place, i) => {
    weight += place.weight;
    return i > 0 && weight > mostAtOnce;
  });
  return places.slice(0, tooMany === -1 ? places.length : tooMany);
}

/** These screens as they stand, each by its address. The number of queries is fixed. */
export async function screensAt(
  service: Service,
  sheet: RoundSheet,
  places: readonly ScreenPlace[],
): Promise<[string, Screen][]> {
  const idsOf = (...kinds: ScreenPlace['of'][]) => [
    ...new Set(places.filter(({ of }) => kinds.includes(of)).map(({ id }) => id)),
  ];
  const { pool } = service;
  const [rackIds, systemIds, tested] = [idsOf('rack'), idsOf('system'), idsOf('system', 'tests')];
  const [lots, feeding, tests] = await Promise.all([
    lotsByRack(pool, sheet, rackIds),
    feedingChoices(pool, systemIds, sheet.now, sheet.timeZone),
    testRows(service, tested, sheet.now, sheet.timeZone),
  ]);
  const draw = ({ of, id }: ScreenPlace): Screen => {
    if (of === 'rack') return rackScreen(sheet, id, lots.get(id) ?? []);
    if (of === 'count') return countScreen(sheet, id, freshForm());
    if (of === 'tests') return testsScreen(sheet, id, tests(id), freshForm());
    if (of === 'round') return overviewScreen(sheet);
    if (of === 'end') return endScreen(sheet);
    const asked = { tests: tests(id).map(({ name }) => name), form: freshForm() };
    return systemScreen(sheet, id, { feeding: feeding(id), ...asked });
  };
  return places.map((place) => [place.path, draw(place)]);
}
