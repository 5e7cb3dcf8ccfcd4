import type { Layout, PageData } from '../../../src/platform/views.ts';
import { sampleChart, sampleRack, sampleSpark } from './pictures.ts';

/** One page to look at: a template of this folder, its layout and what it is given. */
export interface Sample {
  layout: Layout;
  data: object;
  page?: Partial<PageData>;
}

export const samplePage: PageData = {
  title: 'Sample',
  area: null,
  now: new Date('2026-11-24T07:30:00Z'),
  timeZone: 'Europe/Lisbon',
  site: { id: '0198', name: 'Saltgate Yard', isOnlyOne: true, mayLeave: false },
  person: { name: 'Ines', role: 'owner', isManager: true, isOwner: true },
  units: { volume: 'L', length: 'cm', small: 'mm', mass: 'g', sent: '' },
  csrf: 'token',
  counts: { now: 1, today: 12 },
  switchedOff: null,
  emergencies: [],
  notice: null,
  undo: null,
  scripts: [],
  hasErrors: false,
};

const crumbs = [
  { href: '/racks', text: 'Shallow' },
  { href: '/racks/2', text: 'Tank 2, behind the long partition' },
];

const spark = sampleSpark();
const system = {
  about: '1,840 L · 4 tanks',
  alkalinity: '8.3',
  uncertainty: '0.15',
  nitrate: '7.6',
  calcium: '431',
  magnesium: '1,335',
  spark,
  swing: 'swung 0.3 in 7 d, steady',
};

const alerts = [
  {
    severity: 'now',
    title: 'R4-6T Goniastrea, B7, stands too bright.',
    numbers: '58 → 149, 2.6 times',
    why: 'Its kind is kept at 50 to 100, and risks burning above 150.',
    first: 'Move it to E3, 71.',
    href: '/x',
    action: 'Move to E3, 71',
    since: new Date('2026-11-23T16:00:00Z'),
    more: 'Explains 2 others.',
  },
  {
    severity: 'today',
    title: 'R4-6U Goniastrea, B8: used to 90, now under 141.',
    href: '/x',
    action: 'Acclimate: 3 steps, 18 days',
    since: new Date('2026-11-24T06:00:00Z'),
  },
  { severity: 'watch', title: 'W3-5X Echinophyllia, D10: a steady jet strikes it.', href: '/x' },
];

export const samples: Record<string, Sample> = {
  water: {
    layout: 'house',
    page: { area: 'water', notice: 'Saved: 8.3 dKH in Long run.' },
    data: {
      chart: sampleChart(),
      systems: [
        { ...system, name: 'Long run' },
        {
          ...system,
          name: 'Shallow',
          severity: 'today',
          asks: 'Alkalinity unsteady: check the doser, then test again',
          swing: 'swung 1.3 in 7 d, unsteady for 9 d',
        },
        {
          ...system,
          name: 'The quarantine system behind the long partition',
          severity: 'watch',
          asks: 'Low reading on the first day of a new kit: repeat with the old one',
          unconfirmed: true,
          alkalinity: '6.9',
          nitrate: '0.02',
          below: true,
        },
      ],
    },
  },
  rack: { layout: 'house', page: { area: 'racks' }, data: { crumbs, rack: sampleRack(), alerts } },
  form: {
    layout: 'house',
    page: { area: 'water', hasErrors: true },
    data: {
      crumbs,
      errors: [{ field: 'nitrate', message: 'Nitrate: write a number with a point, as 7.5' }],
      kits: [
        { value: '1', text: 'Alkalinity drops, opened 3 Nov' },
        { value: '2', text: 'Photometer', hint: 'checked 8 days ago' },
      ],
      hands: [
        { value: '1', text: 'Ines' },
        { value: '2', text: 'Tomas' },
      ],
      quantities: [
        { name: 'alkalinity', label: 'Alkalinity', unit: 'dKH', last: '8.3, 3 h ago', value: '8.4' },
        {
          name: 'nitrate',
          label: 'Nitrate',
          hint: 'as NO₃',
          unit: 'mg/L',
          last: '7.6, yesterday 07:30',
          value: '7,5o',
        },
        { name: 'calcium', label: 'Calcium', unit: 'mg/L', last: '431, 6 days ago' },
        { name: 'temperature', label: 'Temperature', unit: '°C', last: 'never', disabled: true },
      ],
    },
  },
  lot: {
    layout: 'house',
    page: { area: 'stock' },
    data: {
      crumbs,
      figures: [
        {
          label: 'Light',
          value: '149',
          unit: 'µmol/(m² s)',
          uncertainty: '6',
          at: new Date('2026-11-12T09:00:00Z'),
        },
        { label: 'Used to', value: '58', unit: 'µmol/(m² s)', note: 'along its placements' },
        {
          label: 'Nitrate',
          value: '0.02',
          unit: 'mg/L',
          below: true,
          unconfirmed: true,
          at: new Date('2026-11-23T06:00:00Z'),
        },
      ],
      rows: [
        { label: 'Kind', text: 'Goniastrea', href: '/x' },
        { label: 'Identified', text: 'cf. edwardsi', small: 'Ines, 3 Nov 2026' },
      ],
      entries: [
        {
          at: new Date('2026-11-23T08:20:00Z'),
          what: 'Bleached, a third',
          who: 'Tomas',
          note: 'on the morning round',
        },
        { at: '2026-11-18', what: 'Lamps turned to 95 %', who: 'Ines', href: '/x' },
        { at: new Date('2025-11-03T10:00:00Z'), what: 'Alkalinity 6.9', voided: true, note: 'wrong bottle' },
      ],
    },
  },
  digest: { layout: 'house', page: { area: 'digest' }, data: {} },
  round: {
    layout: 'round',
    data: {
      conditions: ['well', 'pale', 'bleached', 'receding', 'torn', 'gone'],
      keys: ['1', '2', '3', '4', '5', '6', '7', '8', '9', '.', '0', '←'],
      lots: [
        { slot: 'A1', code: 'K7-3Q', kind: 'Lobophyllia' },
        { slot: 'B3', code: 'M2-9C', kind: 'Favites', note: 'healing, day 6' },
        {
          slot: 'B7',
          code: 'R4-6T',
          kind: 'Goniastrea',
          note: 'paling yesterday',
          state: 'bleached, a third',
          open: true,
        },
        { slot: 'D10', code: 'P1-07', kind: 'Dipsastraea with a very long name that somebody gave it' },
      ],
    },
  },
  'sign-in': {
    layout: 'plain',
    page: { person: null, site: null, hasErrors: true },
    data: { errors: [{ field: 'password', message: 'E-mail and password do not belong together' }] },
  },
  tag: {
    layout: 'public',
    page: { person: null },
    data: {
      rows: [
        { label: 'Light', text: '85 at midday', small: '3.1 mol a day' },
        { label: 'Alkalinity', text: '8.2', unit: 'dKH', small: '8.0 to 8.4 in 30 days, 21 tests' },
      ],
    },
  },
};
