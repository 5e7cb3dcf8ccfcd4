import type { Side } from '../levels/edges.ts';

interface Advice {
  why: string;
  firstStep: string;
}

const confirm = 'Confirm with a second test, with another kit if there is one.';

/** What it does and what to do first, by quantity and side; figures with their sources in the care library and the rules. */
const known: Readonly<Record<string, Readonly<Record<Side, Advice>>>> = {
  alkalinity: {
    below: {
      why: 'Stony corals build with it; below 5 to 6 dKH stock was reported severely affected. A quick repair harms more than a steady low level.',
      firstStep: `${confirm} Look at the doser and the salinity; then plan a correction of at most 1 dKH a day.`,
    },
    above: {
      why: 'High alkalinity burns tips and, with a high pH, drops out as carbonate on pumps and heaters.',
      firstStep: `${confirm} Stop or lower the dosing and let the stock use it up; add nothing acid.`,
    },
  },
  calcium: {
    below: {
      why: 'Stony corals lay it down with alkalinity; a low level limits both only far below the sea’s 420 mg/L.',
      firstStep: `${confirm} Test salinity and magnesium too; then plan a correction of at most 20 to 30 mg/L a day (common practice).`,
    },
    above: {
      why: 'High calcium with high alkalinity drops out as carbonate.',
      firstStep: `${confirm} Dose less calcium and let the stock use it up, or change water.`,
    },
  },
  magnesium: {
    below: {
      why: 'Without enough magnesium calcium and alkalinity drop out and do not hold.',
      firstStep: `${confirm} Test salinity; then plan a correction of at most 50 to 100 mg/L a day (common practice).`,
    },
    above: {
      why: 'It does little by itself, but salinity or a dose may be off.',
      firstStep: `${confirm} Test salinity; dose no more.`,
    },
  },
  salinity: {
    below: {
      why: 'Everything dissolved thins with it; lasting low salinity kills corals, sooner in warm water.',
      firstStep:
        'Test again with a second instrument, and look for what adds fresh water: top-up, leak, rain. Raise it by 1 to 2 a day at most (common practice).',
    },
    above: {
      why: 'Everything dissolved rises with it; evaporation that is not topped up does this slowly, a wrong mix at once.',
      firstStep:
        'Test again with a second instrument, and look at the top-up. Lower it by 1 to 2 a day at most with fresh water (common practice).',
    },
  },
  temperature: {
    below: {
      why: 'Growth slows, and a heater that failed goes on failing.',
      firstStep:
        'Read a second thermometer, then look at heater and controller; isolate the mains before hands go in. Warm it by at most 1 °C a day (common practice).',
    },
    above: {
      why: 'From 1 °C above their usual summer corals are under stress, and it adds up over weeks.',
      firstStep:
        'Read a second thermometer, then look at chiller, fans and heater; isolate the mains before hands go in. Shade helps: less light harms less while it is warm.',
    },
  },
  ph: {
    below: {
      why: 'A low pH slows calcification; it mostly speaks of carbon dioxide in the room.',
      firstStep:
        'Read it again with a probe set on fresh buffers, at the same hour. Then air the room and the water before dosing anything.',
    },
    above: {
      why: 'A high pH lets carbonate drop out, and makes what ammonia there is poisonous.',
      firstStep:
        'Read it again with a probe set on fresh buffers. Then look at limewater and carbonate dosing.',
    },
  },
  phosphate: {
    below: {
      why: 'Corals short of phosphorus lose tissue and bleach sooner.',
      firstStep: `${confirm} Take phosphate remover out and feed a little more.`,
    },
    above: {
      why: 'It feeds algae and can slow the laying down of skeleton; healthy stock was reported at high levels, so a slow return is enough.',
      firstStep: `${confirm} Change water, take detritus out; bring remover in slowly, since a sudden fall harms more.`,
    },
  },
};

const other: Record<Side, Advice> = {
  below: {
    why: 'It stands below what this farm keeps.',
    firstStep: `${confirm} Dose nothing on one reading.`,
  },
  above: {
    why: 'It stands above what this farm keeps.',
    firstStep: `${confirm} Look for what brings it in, and change water.`,
  },
};

/** Why a quantity outside its band matters, and what comes first. */
export const adviceOn = (code: string, side: Side): Advice => (known[code] ?? other)[side];
