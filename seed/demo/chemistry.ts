import type { Random } from '../../src/science/statistics/random.ts';
import { type FarmSystem, MAKE_UP } from './farm.ts';
import { CREEP_DAYS, CREEP_PER_WEEK, dkh, FAULT_SPREAD, UNSTEADY_DAYS } from './planted.ts';
import { Brine, type Flows, type Solute, Water } from './water.ts';
import { DAYS, type World } from './world.ts';

/** The water as it truly was at one time. */
export interface TrueWater extends Record<Solute, number> {
  day: number;
  at: Date;
  salinity: number;
  temperature: number;
  ph: number;
}

export interface DoseGiven {
  at: Date;
  solute: Solute;
  /** What the doser was told, and what went in: the rise of the level. */
  told: number;
  given: number;
  byHand: boolean;
}

/** A system's half year of water: as it was at each morning's tests, and what was put in and changed. */
export interface WaterHistory {
  mornings: TrueWater[];
  doses: DoseGiven[];
  changes: { at: Date; volumeL: number }[];
  flows: Record<Solute, Flows>;
  end: Record<Solute, number>;
}

/** Calcium for each meq of alkalinity laid down as CaCO3, mg; magnesium goes with it (30 mmol to the mol, own choice). */
const CA_PER_MEQ = 20.04;
const MG_PER_MEQ = 0.03 * (24.305 / 2);
/** What walls and pipes lay down besides the stock, meq/L a day. */
const WALLS = dkh(0.15);
/** Laying down quickens with alkalinity by this power. */
const QUICKENING = 1.5;
/** Cloud, feeding and chance move a day's uptake by this much, meq/L. */
const DAY_NOISE = dkh(0.1);
/** The doser measures for itself and makes up this part of what is missing. */
const STEERING = 0.3;
const MORNING = 8.25;
const CHANGE_HOUR = 11.5;
const DOSE_HOUR = 5;

/** Runs one system's water through the half year; `uptake` is the stock's, meq a day. */
export function waterHistory(
  world: World,
  system: FarmSystem,
  uptake: readonly number[],
  slot: number,
): WaterHistory {
  const run = new WaterRun(world, system, uptake, MORNING + slot * 0.4);
  for (let day = 0; day <= DAYS; day++) run.live(day);
  return run.history();
}

class WaterRun {
  readonly #world: World;
  readonly #system: FarmSystem;
  readonly #uptake: readonly number[];
  readonly #morning: number;
  readonly #random: Random;
  readonly #fault: Random;
  readonly #water: Water;
  readonly #brine: Brine;
  readonly #mornings: TrueWater[] = [];
  readonly #doses: DoseGiven[] = [];
  readonly #changes: { at: Date; volumeL: number }[] = [];
  #nitrateMood = 0;
  #warmth = 0;
  #air = 0;
  #dayNoise = 0;

  constructor(world: World, system: FarmSystem, uptake: readonly number[], morning: number) {
    const { name, alkalinityDkh, nitrate, volumeL } = system.plan;
    this.#world = world;
    this.#system = system;
    this.#uptake = uptake;
    this.#morning = morning;
    this.#random = world.random(`water of ${name}`);
    this.#fault = world.random(`doser of ${name}`);
    this.#water = new Water({
      alkalinity: dkh(alkalinityDkh),
      calcium: 422,
      magnesium: 1305,
      nitrate,
      phosphate: 0.075,
    });
    this.#brine = new Brine(volumeL, 35);
  }

  live(day: number): void {
    this.#drawDay();
    this.#pass(day, DOSE_HOUR);
    this.#doseByMachine(day, DOSE_HOUR);
    this.#pass(day, this.#morning - DOSE_HOUR);
    this.#look(day);
    this.#pass(day, CHANGE_HOUR - this.#morning);
    this.#changeWater(day);
    this.#doseByHand(day, CHANGE_HOUR + 1);
    this.#pass(day, 24 - CHANGE_HOUR);
    this.#brine.topUp(0.0012 * this.#system.plan.volumeL * this.#random.normal());
  }

  history(): WaterHistory {
    return {
      mornings: this.#mornings,
      doses: this.#doses,
      changes: this.#changes,
      flows: this.#water.flows,
      end: this.#water.level,
    };
  }

  /** What this day is like: moods that pass slowly, and the day's own chance. */
  #drawDay(): void {
    const normal = () => this.#random.normal();
    this.#nitrateMood = 0.9 * this.#nitrateMood + 0.02 * normal();
    this.#warmth = 0.8 * this.#warmth + 0.08 * normal();
    this.#air = 0.8 * this.#air + 0.02 * normal();
    this.#dayNoise = DAY_NOISE * normal();
  }

  /** Lets hours pass: what lives there takes up and gives off, and water evaporates. */
  #pass(day: number, hours: number): void {
    if (this.#isOver(day, 0)) return;
    const part = hours / 24;
    const taken = (this.#calcification(day) + this.#dayNoise) * part;
    this.#water.live('alkalinity', -taken);
    this.#water.live('calcium', -taken * CA_PER_MEQ);
    this.#water.live('magnesium', -taken * MG_PER_MEQ);
    this.#water.live('nitrate', this.#nitrateMade(day) * part);
    this.#water.live('phosphate', (0.006 - 0.065 * this.#water.level.phosphate) * part);
    this.#brine.evaporate(0.008 * this.#system.plan.volumeL * part);
  }

  /** meq/L a day. */
  #calcification(day: number): number {
    const { volumeL, alkalinityDkh } = this.#system.plan;
    const usual = (this.#uptake[day] ?? 0) / volumeL + WALLS;
    return usual * (this.#water.level.alkalinity / dkh(alkalinityDkh)) ** QUICKENING;
  }

  /** Net nitrate made, mg/L a day: what the usual changes carry off, and the creep on top since its onset. */
  #nitrateMade(day: number): number {
    const { nitrate, changePart, planted } = this.#system.plan;
    const balanced = (changePart * (nitrate * (1 + changePart / 2) - MAKE_UP.nitrate)) / 7;
    return balanced * (1 + this.#nitrateMood) + (planted === 'nitrate-creep' ? this.#creep(day) : 0);
  }

  /** What lifts the level by a steady part a week in spite of the changes: the rise, and what they carry off of it. */
  #creep(day: number): number {
    const { nitrate, changePart } = this.#system.plan;
    const days = day - (DAYS - CREEP_DAYS);
    const rise = (CREEP_PER_WEEK * nitrate) / 7;
    return days < 0 ? 0 : rise * (1 + (changePart / 7) * days);
  }

  #doseByMachine(day: number, hour: number): void {
    const { alkalinityDkh, volumeL, planted } = this.#system.plan;
    const missing = dkh(alkalinityDkh) - this.#water.level.alkalinity;
    const usual = (this.#uptake[day] ?? 0) / volumeL + WALLS;
    const told = Math.max(0, usual + STEERING * missing);
    const failing = planted === 'alkalinity-unsteady' && day >= DAYS - UNSTEADY_DAYS;
    const delivered = failing ? 1 + FAULT_SPREAD * this.#faultSwing(day) : 1 + 0.01 * this.#random.normal();
    this.#dose(day, hour, 'alkalinity', told, told * delivered, false);
    this.#dose(day, hour + 0.25, 'calcium', told * CA_PER_MEQ, told * CA_PER_MEQ, false);
  }

  /** Air in the line: mostly too little or too much, seldom right; between -1 and 1. */
  #faultSwing(day: number): number {
    const sign = this.#fault.uniform() < 0.5 ? -1 : 1;
    return day === DAYS - UNSTEADY_DAYS ? -1 : sign * (0.55 + 0.45 * this.#fault.uniform());
  }

  /** Now and then somebody lifts magnesium by hand. */
  #doseByHand(day: number, hour: number): void {
    if (day % 40 !== 20 || this.#water.level.magnesium > 1312) return;
    this.#dose(day, hour, 'magnesium', 8, 8, true);
  }

  #dose(day: number, hour: number, solute: Solute, told: number, given: number, byHand: boolean): void {
    if (told <= 0 || this.#isOver(day, hour)) return;
    this.#water.dose(solute, given);
    this.#doses.push({ at: this.#world.at(day, hour), solute, told, given, byHand });
  }

  #changeWater(day: number): void {
    const { changePart, changeWeekday, volumeL } = this.#system.plan;
    if (this.#world.weekday(day) !== changeWeekday || this.#isOver(day, CHANGE_HOUR)) return;
    const liters = Math.round((changePart * (0.95 + 0.1 * this.#random.uniform()) * volumeL) / 10) * 10;
    this.#water.change(liters / volumeL, MAKE_UP);
    this.#brine.change(liters / volumeL, 35 + 0.15 * this.#random.normal());
    this.#changes.push({ at: this.#world.at(day, CHANGE_HOUR), volumeL: liters });
  }

  #look(day: number): void {
    if (this.#isOver(day, this.#morning)) return;
    const at = this.#world.at(day, this.#morning);
    const season = 0.25 * Math.sin((2 * Math.PI * day) / 365);
    const temperature = this.#system.plan.temperature + season + this.#warmth;
    const ph = 8.08 + this.#air;
    this.#mornings.push({ day, at, ...this.#water.level, salinity: this.#brine.salinity, temperature, ph });
  }

  #isOver(day: number, hour: number): boolean {
    return this.#world.at(day, hour) > this.#world.now;
  }
}
