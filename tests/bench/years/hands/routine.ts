import { lotOf } from '../farm/befalls.ts';
import { type System, timeOf, troublesOn } from '../farm/farm.ts';
import type { Trouble } from '../farm/troubles.ts';
import { dkh } from '../farm/water.ts';
import type { Code, Entry } from './book.ts';
import type { Hands } from './hands.ts';

/** On which days of the week each quantity is tested; temperature whenever somebody comes. */
export const testDays: Readonly<Record<Code, readonly number[]>> = {
  alkalinity: [0, 2, 4],
  calcium: [2],
  nitrate: [2],
  phosphate: [4],
  salinity: [0, 4],
  temperature: [0, 1, 2, 3, 4, 5, 6],
  ph: [2],
};
const codes = Object.keys(testDays) as Code[];
/** So many tests are forgotten though somebody is there (own assumption). */
const leftOut = 0.04;
/** The day on which all lots are looked at. */
export const lookDay = 4;

/** Whether a test is due by the days of the week; what nobody was there for yesterday is due today. */
const isDueByWeekday = ({ farm: { day }, missedYesterday }: Hands, code: Code): boolean =>
  testDays[code].includes(day % 7) || (missedYesterday && testDays[code].includes((day + 6) % 7));

/** What is due to be tested today, for everybody who tests at all; `isDue`: by another plan than the days of the week. */
export function tests(
  hands: Hands,
  system: System,
  isDue: (code: Code) => boolean = (code) => isDueByWeekday(hands, code),
): Entry[] {
  const { day } = hands.farm;
  return codes.flatMap((code) => {
    if (!isDue(code) || hands.farm.chance.happens(leftOut, 'left out', code, system.index, day)) return [];
    return hands.test(system, code) ?? [];
  });
}

const changeDay = 3;
const settingEvery = 30;
export const alkalinityTarget = 8.2 * dkh;

/** What everybody does, watched or not: water once a week, and once a month the doser is set by one test. */
export function routine(hands: Hands, system: System, part: number): void {
  const { farm } = hands;
  const { day } = farm;
  const book = hands.bookOf(system);
  const skipped = troublesOn(farm, system.index, ['changes skipped']).length > 0;
  const last = book.changes.findLast(({ once }) => !once)?.at ?? -7;
  const due = day - Math.floor(last) >= 7 || (day % 7 === changeDay && day - Math.floor(last) >= 4);
  if (due && !skipped) hands.change(system, part, { once: false });
  if (day % settingEvery !== 10 + system.index) return;
  const read = hands.test(system, 'alkalinity');
  if (read === null) return;
  const step = (alkalinityTarget - read.value) / 15;
  const most = 0.3 * system.doseSet;
  if (Math.abs(step) > 0.02 * dkh)
    hands.setDose(system, system.doseSet + Math.max(-most, Math.min(most, step)));
}

/** Of nine days of cutting in ten the cuts are logged, all or none (own assumption). */
const cutsNoted = 0.9;

/** What whoever did it wrote down: cuts, a pump switched off, lamps turned up, a lot moved, a sale. */
export function noteDown(hands: Hands): void {
  const { farm, book } = hands;
  const now = timeOf(farm);
  for (const { index, cuts } of farm.systems) {
    const own = book.systems[index];
    if (own === undefined) continue;
    for (const cut of cuts.splice(0))
      if (hands.notes(cutsNoted, 'cut noted', index, Math.floor(cut.at))) own.cuts.push(cut);
  }
  for (const one of farm.troubles) {
    if (!one.noted || one.from > now) continue;
    if (one.endedDay !== null && one.endedDay > now - 1.5 / 24 && one.byChance <= now) noteEnd(hands, one);
    if (one.from <= now - 1 / 24) continue;
    const own = book.systems[one.system];
    const system = farm.systems[one.system];
    if (own === undefined || system === undefined) continue;
    if (one.kind === 'pump left off')
      own.off.push({ at: one.from, dueAt: one.from + 0.5 / 24, backAt: null });
    if (one.kind === 'large sale') own.sales.push({ at: one.from });
    if (one.kind === 'wrong move') own.moves.push({ at: one.from, lot: lotOf(system, one).id });
    if (one.kind === 'lamp turned up') {
      const rack = Math.floor(2 * one.pick);
      own.lamps.push({
        at: one.from,
        rack,
        percent: (system.racks[rack]?.percent ?? 70) * (1.4 + 0.8 * one.size),
      });
    }
  }
}

/** Whoever stumbles over what was written down writes down that it is as it was. */
function noteEnd({ farm, book }: Hands, { kind, system: index, pick }: Trouble): void {
  const [own, system] = [book.systems[index], farm.systems[index]];
  if (own === undefined || system === undefined) return;
  const at = timeOf(farm);
  if (kind === 'pump left off') for (const one of own.off) one.backAt ??= at;
  if (kind === 'wrong move') own.moves.push({ at, lot: lotOf(system, { kind, pick }).id });
  if (kind !== 'lamp turned up') return;
  const rack = Math.floor(2 * pick);
  own.lamps.push({ at, rack, percent: system.racks[rack]?.percent ?? 70 });
}
