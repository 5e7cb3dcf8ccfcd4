/** What may be done with a lot: not at all, with a reason that is kept, or as usual. */
export type Answer = 'refused' | 'asked' | 'free';

/** What is done with a lot that a pest can travel with. */
export type Act = 'sale' | 'hold' | 'move' | 'cut' | 'tag';

/** A published length of time: at one temperature, or (degC null) with none told. */
export interface PublishedDays {
  degC: number | null;
  days: number;
}

/** What is known of a pest, and what it forbids. Each figure has its source. */
export interface Pest {
  code: string;
  name: string;
  /** What it lives on, in words. */
  hosts: string;
  spreads: string;
  /** From the laying of an egg to its hatching; empty: not known. */
  hatch: readonly PublishedDays[];
  /** From one egg to the first eggs of what hatched from it, at least; empty: not known. */
  cycle: readonly PublishedDays[];
  /** Of the figures, or of their absence. */
  source: string;
  /** What is known of treating it, with its source. */
  treating: string;
  /** Of a lot on which it was seen, and of the others that share its water. */
  rule: { seenOn: Readonly<Record<Act, Answer>>; sharing: Readonly<Record<Act, Answer>>; source: string };
}

const practice = 'Common practice; the strictness of each answer is our own choice';

/** A pest that eats its host: nothing that carries it is sold or cut, what shares its water only with a reason. */
const eats: Pest['rule'] = {
  seenOn: { sale: 'refused', hold: 'asked', move: 'asked', cut: 'refused', tag: 'refused' },
  sharing: { sale: 'asked', hold: 'asked', move: 'asked', cut: 'asked', tag: 'asked' },
  source: practice,
};

/** A pest that crowds its host: a buyer must know, and it must not get into other water unsaid. */
const crowds: Pest['rule'] = {
  seenOn: { sale: 'refused', hold: 'asked', move: 'asked', cut: 'asked', tag: 'refused' },
  sharing: { sale: 'asked', hold: 'free', move: 'asked', cut: 'free', tag: 'asked' },
  source: practice,
};

const flatworms =
  'The Life Cycle of the Acropora Coral-Eating Flatworm, Front. Mar. Sci. 6 (2019) 524; read in its abstract, which gives 24 and 27 °C of 21 to 30 °C tested';

/** The pests that can be noted. One that is not told counts as the worst. */
export const PESTS: readonly Pest[] = [
  {
    code: 'acropora_flatworm',
    name: 'Acropora-eating flatworm',
    hosts: 'Acropora',
    spreads: 'Crawls from host to host and lays its eggs on bare skeleton. No dip reaches the eggs.',
    hatch: [{ degC: 27, days: 11 }],
    cycle: [
      { degC: 24, days: 64 },
      { degC: 27, days: 38 },
    ],
    source: flatworms,
    treating:
      'A treatment was tried beside shaken and untreated pieces (Aquaculture 532, 2021). A dip lowers the count and leaves the eggs.',
    rule: eats,
  },
  {
    code: 'montipora_slug',
    name: 'Montipora-eating slug',
    hosts: 'Montipora',
    spreads:
      'Larvae drift in the water: they can settle after 6 days, on day 9 most of them (31.1 %), and only with their host near.',
    hatch: [],
    cycle: [],
    source: 'Zool. Stud. 61 (2022) 59, read in its abstract: larvae only, no whole cycle and no temperature',
    treating: 'No figure was found for a dip that ends it.',
    rule: eats,
  },
  {
    code: 'porites_slug',
    name: 'Porites-eating slug',
    hosts: 'Porites',
    spreads: 'Larvae drift 3 to 4 days, so the body of water is what is infested.',
    hatch: [{ degC: null, days: 7 }],
    cycle: [{ degC: null, days: 20 }],
    source:
      'A museum fact sheet on Phestilla minor: hatches about day 7, drifts 3-4 days, lays ten days later; 20 days are their sum. No temperature is told',
    treating: 'No figure was found for a dip that ends it.',
    rule: eats,
  },
  {
    code: 'acropora_copepod',
    name: 'Copepods on Acropora',
    hosts: 'Acropora',
    spreads: 'Swims and crawls from host to host.',
    hatch: [],
    cycle: [],
    source: 'No figure was found for its cycle',
    treating:
      'Twelve baths of 6 h, each after a count, ended them in one public collection (J. Aquat. Anim. Health 2016).',
    rule: eats,
  },
  {
    code: 'acoel_flatworm',
    name: 'Flat brown worms in numbers',
    hosts: 'Any coral',
    spreads: 'Drifts and crawls over everything. Worms that die in numbers release a poison.',
    hatch: [],
    cycle: [],
    source: 'No figure was found for its cycle',
    treating:
      'Dips of live rock removed 86 and 92 %, baths of 24 h 76 to 100 % by species and product (2009): a dip lowers the count, it never makes clean.',
    rule: crowds,
  },
  {
    code: 'zoanthid_eater',
    name: 'Slugs, snails or spiders on zoanthids',
    hosts: 'Zoanthids',
    spreads: 'Crawls from colony to colony, hidden by day (common practice).',
    hatch: [],
    cycle: [],
    source: 'No figure was found for its cycle',
    treating: 'No figure was found for a dip that ends it.',
    rule: eats,
  },
  {
    code: 'stinging_polyps',
    name: 'Stinging polyps or hydroids',
    hosts: 'Mounts and rock beside corals',
    spreads: 'From every piece of flesh that is left, and on every mount (common practice).',
    hatch: [],
    cycle: [],
    source: 'No figure was found for its cycle',
    treating: 'No figure was found.',
    rule: crowds,
  },
  {
    code: 'worm_snail',
    name: 'Worm snails',
    hosts: 'Mounts, rock and skeleton',
    spreads: 'On mounts and skeleton, with young that settle near (common practice).',
    hatch: [],
    cycle: [],
    source: 'No figure was found for its cycle',
    treating: 'No figure was found.',
    rule: crowds,
  },
  {
    code: 'unnamed',
    name: 'Pest, not told which',
    hosts: 'Not known',
    spreads: 'Not known. It counts as the worst until somebody tells which it is.',
    hatch: [],
    cycle: [],
    source: 'Not known which it is',
    treating: 'Find out which it is first: a picture through a lens, and its eggs.',
    rule: eats,
  },
];

/** The pest of a code; one that is no longer in the table counts as not told. */
export const pestOf = (code: string): Pest =>
  PESTS.find((pest) => pest.code === code) ?? (PESTS.at(-1) as Pest);

/** How strictly each answer is taken, the strictest last. */
const ANSWERS: readonly Answer[] = ['free', 'asked', 'refused'];

/** The strictest answer of several watches to an act. */
export const strictest = (answers: readonly Answer[]): Answer =>
  answers.reduce<Answer>(
    (worst, one) => (ANSWERS.indexOf(one) > ANSWERS.indexOf(worst) ? one : worst),
    'free',
  );

/** A pest as it goes on in a sentence. */
export const pestInWords = (code: string): string =>
  code === 'unnamed' ? 'a pest that nobody named yet' : pestOf(code).name;

/** Each act as it goes on in a sentence. */
export const ACT_WORDS: Readonly<Record<Act, string>> = {
  sale: 'sell it or give it away',
  hold: 'hold it for a buyer',
  move: 'move it to other water',
  cut: 'cut it',
  tag: 'tag it',
};
