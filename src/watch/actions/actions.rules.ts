import { type Lever, phases } from '../../alerts/advice.ts';
import type { Finding, SubjectType } from '../../alerts/finding.ts';
import { uncheckedFacet } from '../rules/work/equipment-fault.ts';

/**
 * What can be done about an alert on its own page: a form that is filled in already ("lamps", "kit", "routine", "doser",
 * "test", "photo", "running", "mended", "checked", "looked"), or one button that leads to the page where it is done.
 */
export type Doing =
  | 'lamps'
  | 'kit'
  | 'routine'
  | 'doser'
  | 'test'
  | 'photo'
  | 'running'
  | 'mended'
  | 'checked'
  | 'looked'
  | 'correct'
  | 'change water'
  | 'doses'
  | 'demand'
  | 'nutrients'
  | 'switch off'
  | 'emergency'
  | 'move'
  | 'apart'
  | 'light steps'
  | 'measure light'
  | 'flow'
  | 'settings'
  | 'kit page'
  | 'pest watch'
  | 'losses'
  | 'affected'
  | 'look'
  | 'photograph rack'
  | 'work';

/** What each is a way to act on: with it the lever of a piece of advice can be moved, or what was moved is noted. */
export const moves: Readonly<Record<Doing, readonly Lever[]>> = {
  lamps: ['light'],
  kit: [],
  routine: ['water', 'export'],
  doser: ['dose'],
  test: [],
  photo: [],
  running: ['pumps', 'heating', 'top-up', 'light', 'dose', 'remover', 'air', 'food'],
  mended: ['pumps', 'heating', 'top-up', 'dose', 'remover', 'air', 'light'],
  checked: [],
  looked: [],
  correct: ['level', 'dose', 'water'],
  'change water': ['water', 'export'],
  doses: ['dose'],
  demand: ['dose'],
  nutrients: ['export', 'water', 'food'],
  'switch off': ['dose', 'pumps', 'heating', 'top-up', 'remover', 'light', 'food'],
  emergency: ['air', 'pumps', 'heating', 'water', 'apart', 'level'],
  move: ['place', 'apart', 'light', 'flow'],
  apart: ['apart', 'place'],
  'light steps': ['light'],
  'measure light': [],
  flow: ['flow', 'pumps'],
  settings: ['light'],
  'kit page': [],
  'pest watch': ['place', 'apart'],
  losses: [],
  affected: [],
  look: [],
  'photograph rack': [],
  work: ['water', 'dose', 'food'],
};

/** Levers for which no page asks anything: they are moved by hand, and "I did these steps" notes it. */
export const byHand: Partial<Record<Lever, string>> = {
  air: 'an air stone or a valve that is opened has no number',
  food: 'the next feeding is entered when it is given',
  remover: 'media and skimmer cups are changed by hand; their service is due work of its own',
  export: 'detritus is taken out by hand',
  flow: 'a pump is turned by hand; what blows where is noted on the rack',
};

type Asked = Pick<Finding, 'rule' | 'facet' | 'changes' | 'advice'> & { subject: { type: SubjectType } };

/** Quantities whose pages of steps are near before they are acute. */
const harmsWithinHours: ReadonlySet<string> = new Set(['temperature', 'ph', 'oxygen']);

/** Something is to be made safe before anything is tested. */
const isAcute = ({ advice: [first] }: Asked): boolean =>
  first !== undefined && phases.indexOf(first.phase) < phases.indexOf('measure');

/** By rule, the best first; what the alert does not bear is left out when it is offered. */
const byRule: Readonly<Record<string, (asked: Asked) => readonly Doing[]>> = {
  'nitrate-creep': () => ['routine', 'nutrients', 'test'],
  'nitrate-level': ({ facet }) =>
    facet === 'high' ? ['routine', 'nutrients', 'change water', 'test'] : ['test', 'nutrients', 'routine'],
  'alkalinity-unsteady': () => ['doser', 'test', 'doses', 'correct'],
  'alkalinity-falling': () => ['doser', 'test', 'correct', 'demand'],
  'out-of-band': (asked) => [
    ...(isAcute(asked) ? (['emergency', 'test'] as const) : (['test'] as const)),
    ...(harmsWithinHours.has(asked.facet) && !isAcute(asked) ? (['emergency'] as const) : []),
    'correct',
    'change water',
    'switch off',
    'nutrients',
    'move',
  ],
  'sources-differ': () => ['test', 'emergency', 'switch off'],
  'sinking-fast': () => ['emergency', 'test', 'switch off', 'correct', 'change water'],
  'warming-fast': () => ['emergency', 'switch off', 'test', 'correct'],
  'moving-together': () => ['test', 'emergency'],
  overdose: () => ['switch off', 'test', 'doses', 'change water', 'emergency'],
  precipitation: () => ['test', 'switch off', 'doses', 'correct', 'change water'],
  saturation: () => ['test', 'correct', 'doses', 'switch off'],
  ammonia: () => ['test', 'emergency', 'change water', 'switch off', 'move'],
  'heat-stress': () => ['test', 'emergency', 'switch off', 'move', 'settings'],
  'demand-changed': () => ['test', 'doser', 'demand', 'doses'],
  'calcium-alkalinity': () => ['test', 'demand', 'doses', 'correct'],
  'kit-biased': () => ['kit', 'kit page'],
  'kit-unfit': () => ['kit', 'kit page'],
  'kit-missing': () => ['kit'],
  'device-silent': () => ['test', 'emergency'],
  'probe-unwell': () => ['test', 'kit page'],
  'equipment-fault': ({ facet }) =>
    facet.startsWith(uncheckedFacet) ? ['checked', 'emergency'] : ['mended', 'switch off', 'emergency'],
  'still-off': ({ facet }) => (facet === 'tests afterwards' ? ['test'] : ['running', 'emergency']),
  'look-overdue': () => ['looked', 'emergency'],
  overdue: () => ['work'],
  'too-much-light': ({ subject }) =>
    subject.type === 'lamp'
      ? ['lamps', 'measure light']
      : ['move', 'light steps', 'settings', 'measure light'],
  'light-step': ({ facet, subject }) =>
    facet === 'fading'
      ? ['measure light', 'settings']
      : subject.type === 'lamp'
        ? ['light steps', 'measure light']
        : ['measure light', 'settings', 'move', 'light steps'],
  'too-little-light': () => ['move', 'light steps', 'settings', 'measure light'],
  'survey-old': () => ['measure light'],
  'jet-on-flesh': () => ['move', 'flow'],
  'flow-unsuited': () => ['move', 'flow'],
  'silt-risk': () => ['move', 'flow'],
  'loose-in-flow': () => ['move', 'flow'],
  'neighbours-in-reach': () => ['move'],
  'tissue-loss': () => ['apart', 'photo', 'test', 'emergency', 'change water', 'switch off'],
  'cut-batch': () => ['apart', 'photo', 'affected'],
  'losses-above-usual': () => ['affected', 'losses', 'test', 'emergency'],
  'affected-share': () => ['affected', 'photo', 'move', 'test', 'emergency'],
  'pest-in-water': () => ['pest watch', 'photo'],
  'condition-noted': () => ['photo', 'move', 'light steps', 'settings', 'flow'],
  lightening: () => ['look', 'photograph rack', 'move', 'light steps'],
  'rack-shift': () => ['photograph rack', 'settings', 'measure light'],
  recovering: () => ['photo', 'move', 'light steps', 'settings'],
};

/** The doings of an alert in their order; none for a rule that is not known any more. */
export const doingsOf = (asked: Asked): readonly Doing[] => byRule[asked.rule]?.(asked) ?? [];

/** The rules that have doings, for the test that none is missing. */
export const rulesWithDoings: ReadonlySet<string> = new Set(Object.keys(byRule));

/** The first thing to do in the few words of a button that leads to the alert, where it is done. */
const buttonWords: Readonly<Record<Doing, string>> = {
  lamps: 'Turn down',
  kit: 'New kit',
  routine: 'Change routine',
  doser: 'Check doser',
  test: 'Test again',
  photo: 'Photograph',
  running: 'Seen running',
  mended: 'Mended',
  checked: 'Go and check',
  looked: 'I looked',
  correct: 'Correct it',
  'change water': 'Change water',
  doses: 'See doses',
  demand: 'See use',
  nutrients: 'Plan it',
  'switch off': 'Switch off',
  emergency: 'Open the steps',
  move: 'Move it',
  apart: 'Set apart',
  'light steps': 'Plan steps',
  'measure light': 'Measure light',
  flow: 'Note flow',
  settings: 'Turn lamps',
  'kit page': 'Check kit',
  'pest watch': 'Look for it',
  losses: 'See the losses',
  affected: 'Compare lots',
  look: 'Record a look',
  'photograph rack': 'Photograph it',
  work: 'Do it',
};

/** "Turn by hand to 70 %", "Check doser": what the button of an alert in a list says. */
export function buttonOf(asked: Asked & { limit?: { text: string; unit: string } }): string {
  const first = doingsOf(asked).find((doing) => doing !== 'routine' || asked.changes !== null);
  if (first === undefined) return 'Open';
  return first === 'lamps' && asked.limit?.unit === '%'
    ? `Turn by hand to ${asked.limit.text} %`
    : buttonWords[first];
}
