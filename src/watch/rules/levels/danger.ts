import { fixed } from '../../../platform/units/everyday.ts';
import { acuteEdges, safeRange } from '../../../water/acute/acute-states.rules.ts';
import type { Side } from './edges.ts';

/** Said of the edges of the safe range wherever they stand. */
export const safeSource =
  'edge of the safe range, common practice; set a band of your own to watch it closer';

/** What the rule on bands looks at by its edges alone; ammonia has a rule of its own. */
const watched = ['temperature', 'ph', 'salinity', 'alkalinity', 'oxygen', 'copper'];

/** The edges beyond which a level is acute; open where none are known. */
export const bearableLevels = (code: string): { low: number; high: number } =>
  watched.includes(code) ? acuteEdges(code) : { low: -Infinity, high: Infinity };

/** The range in which a level is safe where no band is kept; open where none is known. */
export const safeLevels = (code: string): { low: number; high: number } =>
  watched.includes(code) ? safeRange(code) : { low: -Infinity, high: Infinity };

/** Whether edges are known beyond which it is acute. */
export const hasBearableLevels = (code: string): boolean => watched.includes(code);

/**
 * A change between two readings that harms within hours wherever it ends: salinity by 3 (common practice, no source).
 */
const jumps: Readonly<Record<string, number>> = { salinity: 3 };

/** Whether a step from one reading to the next harms by its size alone. */
export const isDangerousJump = (code: string, from: number, to: number): boolean =>
  Math.abs(to - from) >= (jumps[code] ?? Infinity);

/** What costs nothing and is right whether the reading is true or not; common practice. */
const precautions: Readonly<Record<string, Readonly<Partial<Record<Side, string>>>>> = {
  temperature: {
    below:
      'Look at heater and controller, with the circuit off before hands go in. Keep air and pumps running. Cover the tank.',
    above:
      'Unplug the heater before hands go in. Look whether it sticks on. Take lids off, set a fan over the surface, turn air on and lights down.',
  },
  ph: {
    below:
      'Let outside air into the room and the skimmer, and turn air on. If people feel unwell, leave the room: carbon dioxide. Add no buffer.',
    above:
      'Stop limewater and every doser of alkalinity by plug and valve. Turn air on. Move nothing through a cloud. Wear gloves and goggles: limewater is caustic.',
  },
  salinity: {
    below: 'Close top-up and fresh water by hand. Look for a leak or a stuck float. Turn air on.',
    above: 'Look whether the top-up runs and its container holds water. Add no salt. Turn air on.',
  },
  oxygen: {
    below:
      'Turn air stones on, point pumps at the surface, take lids off. Give no food. Look for something dead.',
  },
  ammonia: { above: 'Turn air on. Give no food. Look for something dead. Do not raise the pH.' },
  copper: {
    above: `Stop the top-up and take metal out of the water. Keep two samples of ${fixed.litres(1)} cold. Turn air on, put in fresh carbon. Look at the animals.`,
  },
  alkalinity: {
    below: 'Look whether the doser runs, its line is open and its container full. Look at the animals.',
    above: 'Stop the doser of alkalinity and limewater. Look for milky water or white film.',
  },
  calcium: {
    below: 'Look whether the doser runs and its container is full. Test salinity.',
    above: 'Stop the doser of calcium. Look for milky water.',
  },
};

/** What to do at once on a reading that nobody has repeated yet, as sentences; null where nothing needs to be. */
export const precautionOf = (code: string, side: Side): string | null => precautions[code]?.[side] ?? null;
