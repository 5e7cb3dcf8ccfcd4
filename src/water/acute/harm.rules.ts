/** Within what time a wrong level does harm: hours (temperature, oxygen, pH far off, ammonia, salinity far off), days, or weeks. */
type Harm = 'hours' | 'days' | 'weeks';

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
