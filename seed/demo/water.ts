/** What the mass balance follows; canonical units (meq/L or mg/L). */
export const SOLUTES = ['alkalinity', 'calcium', 'magnesium', 'nitrate', 'phosphate'] as const;
export type Solute = (typeof SOLUTES)[number];

/** What went into and out of the water of one system, each as a change of its level. */
export interface Flows {
  start: number;
  dosed: number;
  /** Production less uptake by all that lives there. */
  lived: number;
  changed: number;
}

/** One well-mixed body of water: levels, and an account of every flow that made them. */
export class Water {
  readonly level: Record<Solute, number>;
  readonly flows: Record<Solute, Flows>;

  constructor(start: Record<Solute, number>) {
    this.level = { ...start };
    this.flows = Object.fromEntries(
      SOLUTES.map((solute) => [solute, { start: start[solute], dosed: 0, lived: 0, changed: 0 }]),
    ) as Record<Solute, Flows>;
  }

  /** Puts in what raises the level by `rise`. */
  dose(solute: Solute, rise: number): void {
    this.level[solute] += rise;
    this.flows[solute].dosed += rise;
  }

  /** What lives there makes (or, below 0, takes up) this much. */
  live(solute: Solute, change: number): void {
    this.level[solute] += change;
    this.flows[solute].lived += change;
  }

  /** Exchanges the part f of the water: N becomes N (1 - f) + s f. */
  change(part: number, makeUp: Record<Solute, number>): void {
    for (const solute of SOLUTES) {
      const step = part * (makeUp[solute] - this.level[solute]);
      this.level[solute] += step;
      this.flows[solute].changed += step;
    }
  }
}

/**
 * Salt and water apart: evaporation takes water only and the float valve gives it back, so that salinity swings
 * about salt over water.
 */
export class Brine {
  readonly #volumeL: number;
  #salt: number;
  #missingL = 0;

  constructor(volumeL: number, salinity: number) {
    this.#volumeL = volumeL;
    this.#salt = salinity * volumeL;
  }

  get salinity(): number {
    return this.#salt / (this.#volumeL - this.#missingL);
  }

  evaporate(liters: number): void {
    this.#missingL += liters;
  }

  /** Fresh water up to the mark, missing or overshooting it by `off` litres. */
  topUp(off: number): void {
    this.#missingL = off;
  }

  change(part: number, salinity: number): void {
    this.#salt += part * (salinity * this.#volumeL - this.#salt);
  }
}
