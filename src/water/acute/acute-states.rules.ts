import { fixed, withoutUnit } from '../../platform/units/everyday.ts';
import { convert, convertDifference } from '../../science/units/convert.ts';

/** How fast a level is brought back to where stock can live; canonical units. */
export interface AcuteRate {
  /** One step, and hours between steps (least, most); `by` null where nothing bounds it. */
  by: number | null;
  everyHours: readonly [least: number, most: number];
  /** The most in the first 24 hours; null where steps and hours alone bound it. */
  mostInDay: number | null;
  /** From here on the slow rate applies. */
  to: number;
  words: string;
}

/** A level at which stock dies within hours or days, and what is done then. */
export interface AcuteState {
  quantity: string;
  side: 'below' | 'above';
  /** Beyond this it is acute; canonical. */
  edge: number;
  /** So far beyond the band that a system keeps it is acute too, whatever the edge; null where the edge alone says so. */
  beyondBand: number | null;
  /** For people first; '' where nothing threatens them. */
  people: string;
  /** Oxygen and movement. */
  air: string;
  /** What feeds it is stopped. */
  source: string;
  rate: AcuteRate;
  /** From when on, and how, it goes on slowly. */
  slow: string;
  /** The next tests. */
  again: string;
  againMinutes: number;
  /** What is left alone meanwhile. */
  not: string;
  /** What rate and edge rest on. */
  basis: string;
}

const { degC, byDegC, psu, byPsu, byDKH } = fixed;

const dkh = (value: number) => convert('alkalinity', value, 'dKH', 'meq/L');
const dkhStep = (value: number) => convertDifference('alkalinity', value, 'dKH', 'meq/L');

/** The slow rate of the temperature inside the acute edges, up and down; common practice. */
export const slowTemperature = {
  up: `${byDegC(0.5)} an hour to ${degC(23)}, then ${byDegC(1)} in 4 to 6 hours`,
  down: `${byDegC(0.5)} an hour, then ${byDegC(1)} a day`,
};

/**
 * The acute states. Outside the range in which an animal can live harm grows with depth and time, so a level is brought
 * to the edge of that range fast and goes on slowly inside it: 11.8 degC warmed by 1 degC a day stays below 16 degC for
 * four days. No published trial sets the rates; they are common practice. Edges and what speaks for them stand in `basis`.
 */
export const acuteStates: readonly AcuteState[] = [
  {
    quantity: 'temperature',
    side: 'below',
    edge: 18,
    beyondBand: null,
    people: 'Switch the circuit off before hands go in. Use no flame and no generator in a closed room.',
    air: 'Turn air and pumps on and cover the tanks, before you heat.',
    source: 'Look at heater, controller and breaker. Switch off a cooler that runs.',
    rate: {
      by: 1,
      everyHours: [1, 1],
      mostInDay: null,
      to: 18,
      words: `Warm it by ${byDegC(1)} an hour up to ${degC(18)}. Do not go by ${byDegC(1)} a day: that leaves them for days where they die.`,
    },
    slow: `Go on slowly from ${degC(18)}: ${slowTemperature.up}.`,
    again:
      'Read it every hour. Test ammonia now and after 12, 24 and 48 hours. Test calcium and alkalinity after 24 hours.',
    againMinutes: 60,
    not: 'Do not feed, and move nothing but what is kept apart. Give half light on the first day.',
    basis:
      'Edge: corals die at 14 °C and less, tropical fish below 15 to 18. Rate: common practice; a fall of 5 °C hurt a branching coral sooner than a rise (Sci. Rep. 2012).',
  },
  {
    quantity: 'temperature',
    side: 'above',
    edge: 31,
    beyondBand: null,
    people: 'Switch off before a hand goes in: a cracked heater makes the water live.',
    air: 'Take lids off, set a fan over the water, turn air up. Turn lights down by half or off.',
    source: 'Unplug the heater. Look whether it sticks on or a pump is jammed.',
    rate: {
      by: 0.5,
      everyHours: [0.5, 1],
      mostInDay: null,
      to: 29,
      words: `Cool it by ${withoutUnit(byDegC(0.5))} to ${byDegC(1)} an hour down to ${degC(29)}. Use a fan first, ice only in closed bottles.`,
    },
    slow: `Go on slowly from ${degC(29)}: ${slowTemperature.down}.`,
    again:
      'Read it every 30 minutes until it falls. Test ammonia after 12 and 24 hours. Look for paling on days 1, 3, 7 and 14.',
    againMinutes: 30,
    not: 'Do not feed, and move nothing but what is kept apart.',
    basis:
      'Edge and rate: common practice; a test standard brings corals back from 9 °C more within an hour (Glob. Change Biol. 2020).',
  },
  {
    quantity: 'salinity',
    side: 'below',
    edge: 28,
    beyondBand: null,
    people: '',
    air: 'Turn air and pumps on.',
    source: 'Close top-up and fresh water by hand. Look for a leak or a stuck float.',
    rate: {
      by: 1,
      everyHours: [1, 1],
      mostInDay: null,
      to: 28,
      words: `Raise it by ${byPsu(1)} an hour up to ${psu(28)}, by changing water for saltier water. Pour no dry salt into the tank.`,
    },
    slow: `Go on slowly from ${psu(28)}: ${byPsu(1)} to ${byPsu(2)} a day.`,
    again: 'Read it every hour while you correct, then after 4 and 24 hours.',
    againMinutes: 60,
    not: 'Correct no calcium, magnesium or alkalinity in thinned water.',
    basis:
      'Edge: field thresholds of sensitive branching corals, 28 for 16 days and 22 for 3; between the two nobody measured. Rate: common practice.',
  },
  {
    quantity: 'salinity',
    side: 'above',
    edge: 38,
    beyondBand: null,
    people: '',
    air: 'Turn air and pumps on.',
    source: 'Look whether the top-up runs and its container holds water. Add no salt.',
    rate: {
      by: -1,
      everyHours: [1, 2],
      mostInDay: null,
      to: 37,
      words: `Lower it by ${byPsu(1)} in 1 to 2 hours down to ${psu(37)}, by changing water for purified water.`,
    },
    slow: `Go on slowly from ${psu(37)}: ${byPsu(1)} to ${byPsu(2)} a day.`,
    again: 'Read it every hour while you correct, then after 4 and 24 hours.',
    againMinutes: 60,
    not: 'Correct no calcium, magnesium or alkalinity until the salinity is back.',
    basis:
      'Edge: most colonies of a branching coral died at 40 within three weeks (MEPS 181, 1999); 38 and the rate: common practice.',
  },
  {
    quantity: 'alkalinity',
    side: 'below',
    edge: dkh(6),
    beyondBand: dkhStep(1.5),
    people: '',
    air: '',
    source:
      'Look whether the doser runs, its line is open and its container full. Start it again at the last known use, and do not stop it to measure the use.',
    rate: {
      by: dkhStep(0.5),
      everyHours: [2, 2],
      mostInDay: dkhStep(2),
      to: dkh(7),
      words: `Raise it by ${byDKH(0.5)} a step, 2 hours or more between. Raise it by at most ${byDKH(2)} in the first 24 hours. Stop at the lower edge of the band.`,
    },
    slow: `Go on slowly from there: ${byDKH(1)} a day.`,
    again: 'Test it 2 hours after each step, then every 12 hours for 3 days, at the same hour.',
    againMinutes: 120,
    not: 'Give no magnesium or trace elements on the same day.',
    basis: 'Edge and rate: common practice; no trial of repair speed was found.',
  },
  {
    quantity: 'alkalinity',
    side: 'above',
    edge: dkh(14),
    beyondBand: null,
    people: 'Wear gloves and goggles: limewater and its powder are caustic.',
    air: 'Keep the water moving, turn air up with outside air, leave the skimmer on.',
    source: 'Stop the doser of alkalinity and limewater in two ways, plug and valve.',
    rate: {
      by: null,
      everyHours: [24, 24],
      mostInDay: null,
      to: dkh(12),
      words:
        'Do not force it down: keep the pH at or below 8.3. Change 20 to 30 % for water of normal alkalinity.',
    },
    slow: `Let the stock use up the rest, ${withoutUnit(byDKH(1))} to ${byDKH(2)} a day.`,
    again: 'Test alkalinity and calcium after 1, 6, 24, 48 and 96 hours.',
    againMinutes: 60,
    not: 'Pour no acid into the tank and no calcium to balance it. Stir up no white powder.',
    basis:
      'Solid carbonate runs away above an aragonite saturation of 7 (Biogeosciences 19, 2022); 14 dKH: common practice.',
  },
  {
    quantity: 'ph',
    side: 'above',
    edge: 8.8,
    beyondBand: null,
    people:
      'Wear gloves and goggles: limewater is caustic. If it gets into an eye, rinse for 15 minutes and call a doctor or the poison centre.',
    air: 'Keep the water moving, turn air up with outside air, leave the skimmer on. Move nothing through a cloud.',
    source: 'Stop limewater and every doser of alkalinity by plug and valve.',
    rate: {
      by: null,
      everyHours: [1, 2],
      mostInDay: null,
      to: 8.5,
      words:
        'Bring it to 8.5 within 1 to 2 hours, not lower. Change 20 to 30 % several times, with fresh mix of usual alkalinity that was not aired long.',
    },
    slow: 'Let it come down by itself below 8.5.',
    again:
      'Read it every 15 minutes until it is below 8.5. Test alkalinity and calcium after 1, 6, 24, 48 and 96 hours.',
    againMinutes: 15,
    not: 'Pour no acid into the tank and no calcium to balance it.',
    basis: 'Edge and rate: common practice, one reported case.',
  },
  {
    quantity: 'ph',
    side: 'below',
    edge: 7.4,
    beyondBand: null,
    people: 'If people feel unwell, leave the room and air it: carbon dioxide.',
    air: 'Let outside air into the room and the skimmer. Turn air on.',
    source: 'Look for what gives carbon dioxide: a reactor or gas bottle, burners, people, closed windows.',
    rate: {
      by: null,
      everyHours: [1, 1],
      mostInDay: null,
      to: 7.8,
      words: 'Use outside air and strong aeration only, and let it come up as it comes. Add no buffer.',
    },
    slow: 'Do nothing more from 7.8 on.',
    again: 'Read it again within the hour. Test ammonia first.',
    againMinutes: 60,
    not: 'Dose no carbonate or buffer to lift it. Do not raise the pH first where there is ammonia.',
    basis: 'Edge and rate: common practice.',
  },
  {
    quantity: 'oxygen',
    side: 'below',
    edge: 4,
    beyondBand: null,
    people: '',
    air: 'Turn air stones on, point pumps at the surface, open skimmer air, take lids off.',
    source: 'Stop food and carbon dosing. Look for something dead and take it out.',
    rate: {
      by: null,
      everyHours: [0, 0],
      mostInDay: null,
      to: 5,
      words: 'Bring it back at once: there is no upper rate up to saturation.',
    },
    slow: 'Watch the nights from 5 mg/L on.',
    again: 'Read it every 30 minutes until above 5 mg/L, then three nights between 04:00 and 06:00.',
    againMinutes: 30,
    not: 'Use no full light to make oxygen, and no peroxide unless a vet says so.',
    basis:
      'Losses of a branching coral at 2 to 4 mg/L (PeerJ 2014); critical 3.7 mg/L (PeerJ 2023). 4 and 5 mg/L as limits: own choice.',
  },
  {
    quantity: 'ammonia',
    side: 'above',
    edge: 1,
    beyondBand: null,
    people: '',
    air: 'Turn air on, keep pumps running.',
    source: 'Look for a dead animal and take it out. Stop feeding.',
    rate: {
      by: null,
      everyHours: [0, 0],
      mostInDay: null,
      to: 0.1,
      words:
        'Change 30 to 50 % with water of the same salinity and temperature and of no higher pH. Do not hold back: dilution cannot be too fast.',
    },
    slow: 'Go on until the test shows less than 0.1 mg/L of ammonia in all, as nitrogen (N).',
    again: 'Test it after 4, 12, 24 and 48 hours, with the pH each time.',
    againMinutes: 240,
    not: 'Do not raise the pH, and do not feed.',
    basis:
      'Edge: about the lasting limit for salt water at pH 7.8, 0.99 mg/L as N in all (US EPA 1989, from memory). Rate: common practice.',
  },
  {
    quantity: 'copper',
    side: 'above',
    edge: 0.03,
    beyondBand: null,
    people: 'If something electric lies in the water, switch the breaker off before a hand goes in.',
    air: 'Turn air up, leave the skimmer on.',
    source: `Stop the top-up and take the metal out. Keep two samples of ${fixed.litres(1)}, sealed, dated and cold.`,
    rate: {
      by: null,
      everyHours: [0, 0],
      mostInDay: null,
      to: 0.01,
      words:
        'Change 30 to 50 % from other source water, and put in fresh carbon and resin. Do not hold back where salinity and temperature match.',
    },
    slow: 'Go on until it is below 10 µg/L, where a massive coral showed no effect.',
    again:
      'Look at the animals every 2 hours. Test ammonia and oxygen after 6 and 24 hours, and send a sample.',
    againMinutes: 120,
    not: 'Use no binders without advice. Do not feed.',
    basis:
      '30 µg/L for 14 days lowered photosynthesis of a massive coral, 10 did not (Alutoin et al. 2001); ordinary kits show 50 at best (from memory).',
  },
];

const byKey = new Map(acuteStates.map((state) => [`${state.quantity} ${state.side}`, state]));

/** The acute state of a quantity on one side; null where none is known. */
export const acuteState = (quantity: string, side: AcuteState['side']): AcuteState | null =>
  byKey.get(`${quantity} ${side}`) ?? null;

/** One that the table must have. */
export function needed(quantity: string, side: AcuteState['side']): AcuteState {
  const state = acuteState(quantity, side);
  if (state === null) throw new Error(`no acute state of ${quantity} ${side}`);
  return state;
}

/** The ends of a band that a system keeps; null where it is open or nobody chose it. Canonical units. */
export interface ChosenBand {
  low: number | null;
  high: number | null;
}

/** No band, or none that somebody chose. */
export const noBand: ChosenBand = { low: null, high: null };

/** The state beside the band that a system keeps: acute so far beyond it too, and fast only up to its edge. */
function besideBand(state: AcuteState, { low, high }: ChosenBand): AcuteState {
  const { side, beyondBand, edge, rate } = state;
  const end = side === 'below' ? low : high;
  if (beyondBand === null || end === null) return state;
  const nearer = side === 'below' ? Math.max(edge, end - beyondBand) : Math.min(edge, end + beyondBand);
  return { ...state, edge: nearer, rate: { ...rate, to: end } };
}

/** The acute state that a level is in, beside the band that its system keeps; null where it is in none. Canonical units. */
export const acuteAt = (quantity: string, value: number, band: ChosenBand): AcuteState | null =>
  acuteStates
    .filter((state) => state.quantity === quantity)
    .map((state) => besideBand(state, band))
    .find(({ side, edge }) => (side === 'below' ? value < edge : value > edge)) ?? null;

type Range = { low: number; high: number };

/** The edges beyond which a level is acute; open where none are known. Canonical units. */
export const acuteEdges = (quantity: string): Range => ({
  low: acuteState(quantity, 'below')?.edge ?? -Infinity,
  high: acuteState(quantity, 'above')?.edge ?? Infinity,
});

/** The edges beyond which a level is acute beside the band that a system keeps; open where none are known. Canonical units. */
export const acuteEdgesBeside = (quantity: string, band: ChosenBand): Range => {
  const edge = (side: AcuteState['side']) => {
    const state = acuteState(quantity, side);
    return state === null ? null : besideBand(state, band).edge;
  };
  return { low: edge('below') ?? -Infinity, high: edge('above') ?? Infinity };
};

/**
 * Short of acute, and looked into on the same day where no band says more. Common practice: oxygen of 5 mg/L before dawn,
 * pH that does harm in days, temperatures at which heat and cold begin to show, salinity at which a fast correction gives
 * way to a slow one, and the usual least; alkalinity as far up as a fast fall is left to the stock.
 */
const strained: Readonly<Record<string, Partial<Range>>> = {
  oxygen: { low: 5 },
  ph: { low: 7.7, high: 8.6 },
  temperature: { low: 20, high: 30 },
  salinity: { low: 30, high: 37 },
  alkalinity: { high: dkh(12) },
};

/** The range in which a level is safe where no band is kept; open where none is known. Canonical units. */
export const safeRange = (quantity: string): Range => ({ ...acuteEdges(quantity), ...strained[quantity] });
