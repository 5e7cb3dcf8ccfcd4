/**
 * How soon a lot that lightens is told by its photographs, and how often one is told for nothing, over made-up series:
 * `npm run bench:whiteness [-- --quick] [-- --tuning]`. Prints figures, asserts nothing. Seeds from 700 million are used for
 * nothing but this report; limits were chosen on seeds from 300 million (`--tuning`).
 */
import { stdout } from 'node:process';
import { parseArgs } from 'node:util';
import { binomialInterval } from '../../src/science/statistics/exact-intervals.ts';
import { lighteningOf, rackShift, tellLightening } from '../../src/science/whiteness/lightening.ts';
import { LIGHTENING, SHIFTED } from '../../src/science/whiteness/limits.ts';
import { followRack } from '../../src/science/whiteness/rack-series.ts';
import { type Light, lights, whitenessWorld } from './whiteness/worlds.ts';

const { values } = parseArgs({
  options: { quick: { type: 'boolean', default: false }, tuning: { type: 'boolean', default: false } },
});
const first = values.tuning ? 300_000_000 : 700_000_000;
const racks = values.quick ? 12 : 60;
const say = (line: string) => stdout.write(`${line}\n`);
const percent = (part: number, of: number) => {
  const { low, high } = binomialInterval(part, of);
  return `${((100 * part) / of).toFixed(1)} % (${(100 * low).toFixed(1)}-${(100 * high).toFixed(1)})`;
};

/** Visits before anything is judged, and a year of them after. */
const before = 12;

/** What the rule says of each lot on the day of each photograph. */
function falseAlerts(light: Light, lots: number, every: number, seed: number) {
  const visits = before + Math.round(365 / every);
  const shots = whitenessWorld({ seed, lots, light, every, visits, missing: 0.15, lighten: null });
  const open = new Set<string>();
  let [alerts, shifts, isOpen] = [0, 0, false];
  for (let n = 2; n <= shots.length; n++) {
    const day = shots[n - 1]?.day ?? 0;
    const series = followRack(shots.slice(0, n).filter((shot) => shot.day > day - 200));
    for (const [id, of] of series.lots) {
      const judged = lighteningOf(series, of);
      if (typeof judged === 'string' || judged.days[1] !== day) continue;
      const told = tellLightening(judged, LIGHTENING);
      if (told === 'told' && !open.has(id)) {
        open.add(id);
        if (day > before * every) alerts++;
      } else if (told === 'not told') open.delete(id);
    }
    const shift = rackShift(series);
    const moved = shift !== null && shift.sure >= SHIFTED.sure && Math.abs(shift.mean) >= SHIFTED.least;
    if (moved && !isOpen && day > before * every) shifts++;
    isOpen = moved;
  }
  return { alerts, shifts, years: (lots * (visits - before) * every) / 365 };
}

/** Lots lightened by 8 % of the way to white, told on the day of the second photograph that shows it. */
function detected(light: Light, lots: number, every: number, seed: number) {
  const from = before + 4;
  const lightened = Math.max(1, Math.round(lots / 8));
  const shots = whitenessWorld({
    ...{ seed, lots, light, every, visits: from + 2, missing: 0.15 },
    lighten: { from, share: 0.08, lots: lightened },
  });
  const last = shots.at(-1)?.day ?? 0;
  const series = followRack(shots.filter((shot) => shot.day > last - 200));
  let [told, of] = [0, 0];
  for (let i = 0; i < lightened; i++) {
    // One that a photograph left out has not been photographed twice.
    if (!shots.slice(-2).every((shot) => shot.lots.has(String(i)))) continue;
    of++;
    const judged = lighteningOf(series, series.lots.get(String(i)) ?? []);
    if (typeof judged !== 'string' && tellLightening(judged, LIGHTENING) === 'told') told++;
  }
  return { told, of };
}

let [allTold, allOf, allAlerts, allYears] = [0, 0, 0, 0];
for (const light of lights)
  for (const lots of [5, 15, 60])
    for (const every of [7, 14]) {
      let [told, of, alerts, shifts, years] = [0, 0, 0, 0, 0];
      const many = lots === 60 ? Math.ceil(racks / 4) : racks;
      for (let n = 0; n < many; n++) {
        const seed = first + 1000 * n + lots + every;
        const quiet = falseAlerts(light, lots, every, seed);
        alerts += quiet.alerts;
        shifts += quiet.shifts;
        years += quiet.years;
      }
      for (let n = 0; n < (lots === 5 ? 4 : 1) * racks; n++) {
        const one = detected(light, lots, every, first + 500_000 + 1000 * n + lots + every);
        told += one.told;
        of += one.of;
      }
      [allTold, allOf, allAlerts, allYears] = [
        allTold + told,
        allOf + of,
        allAlerts + alerts,
        allYears + years,
      ];
      say(
        `${light.name}, ${lots} lots, every ${every} days: told in two photographs ${percent(told, of)}; falsely ${(alerts / years).toFixed(3)} a lot-year (${alerts} in ${years.toFixed(0)}); a shift of the rack ${(shifts / (years / lots)).toFixed(2)} a rack-year`,
      );
    }
say(`all: told ${percent(allTold, allOf)}; falsely ${(allAlerts / allYears).toFixed(3)} a lot-year`);
