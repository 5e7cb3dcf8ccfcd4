import { acuteEdges } from '../../../water/acute/acute-states.rules.ts';
import type { Side } from './edges.ts';

/** Within what time a wrong level does harm: hours (temperature, oxygen, pH far off, ammonia, salinity far off), days, or weeks. */
type Harm = 'hours' | 'days' | 'weeks';

/** Said of these edges wherever they stand. */
export const bearableSource =
  'edge beyond which stock is in danger, common practice; set a band of your own to watch it closer';

/** What the rule on bands looks at by its edges alone; ammonia has a rule of its own. */
const watched = ['temperature', 'ph', 'salinity', 'alkalinity', 'oxygen', 'copper'];

/** The edges beyond which a level is acute; open where none are known. */
export const bearableLevels = (code: string): { low: number; high: number } =>
  watched.includes(code) ? acuteEdges(code) : { low: -Infinity, high: Infinity };

/** Whether edges are known beyond which it is acute. */
export const hasBearableLevels = (code: string): boolean => watched.includes(code);

/**
 * A change between two readings that harms within hours wherever it ends: salinity by 3 (class H of this project's
 * reference for fast trouble; common practice, no source).
 */
const jumps: Readonly<Record<string, number>> = { salinity: 3 };

/** Whether a step from one reading to the next harms by its size alone. */
export const isDangerousJump = (code: string, from: number, to: number): boolean =>
  Math.abs(to - from) >= (jumps[code] ?? Infinity);

const harms: Readonly<Record<string, Harm>> = {
  temperature: 'hours',
  ph: 'hours',
  oxygen: 'hours',
  ammonia: 'hours',
  salinity: 'hours',
  copper: 'hours',
  alkalinity: 'days',
  calcium: 'days',
};

/** Within what time a wrong level of the quantity does harm; own grouping. */
export const harmOf = (code: string): Harm => harms[code] ?? 'weeks';

/** What costs nothing and is right whether the reading is true or not; common practice. */
const precautions: Readonly<Record<string, Readonly<Partial<Record<Side, string>>>>> = {
  temperature: {
    below:
      'look at heater and controller (switch the circuit off before hands go in), keep air and pumps running, cover the tank',
    above:
      'unplug the heater before hands go in, look whether it sticks on, lids off, a fan over the surface, air on, lights down',
  },
  ph: {
    below:
      'let outside air into the room and the skimmer, air on; if people feel unwell, leave the room (carbon dioxide). Add no buffer',
    above:
      'stop limewater and every doser of alkalinity by plug and valve, air on, move nothing through a cloud. Limewater is caustic: gloves and goggles',
  },
  salinity: {
    below: 'close top-up and fresh water by hand, look for a leak or a stuck float, air on',
    above: 'look whether the top-up runs and its container holds water, add no salt, air on',
  },
  oxygen: {
    below: 'air stones on, pumps at the surface, lids off, no food; look for something dead',
  },
  ammonia: { above: 'air on, no food, look for something dead, do not raise the pH' },
  copper: {
    above:
      'stop the top-up, take metal out of the water, keep two samples of a litre cold, air on, fresh carbon; look at the animals',
  },
  alkalinity: {
    below: 'look whether the doser runs, its line is open and its container full; look at the animals',
    above: 'stop the doser of alkalinity and limewater; look for milky water or white film',
  },
  calcium: {
    below: 'look whether the doser runs and its container is full; test salinity',
    above: 'stop the doser of calcium; look for milky water',
  },
};

/** What to do at once on a reading that nobody has repeated yet; null where nothing needs to be. */
export const precautionOf = (code: string, side: Side): string | null => precautions[code]?.[side] ?? null;
