import { z } from 'zod';
import { eventCodes } from '../../farm/events/kinds.rules.ts';
import { offMinutes } from '../../farm/switched-off/switched-off.schema.ts';
import { unitChoices } from '../../platform/units/units.ts';
import {
  choice,
  optionalChosen,
  optionalNumber,
  optionalText,
  text,
  tick,
} from '../../platform/web/fields.ts';
import { COMPARISONS, CONDITION_STATES } from '../../stock/base/condition-states.rules.ts';
import { lossCause } from '../../stock/losses/losses.schema.ts';
import { pestCode, pestCount } from '../../stock/pests/pests.schema.ts';
import { dilutionField } from '../../water/readings/readings.schema.ts';

const id = z.uuid({ error: 'This is not a key the service can use.' });
const open = (what: string) => z.uuid({ error: `Choose ${what}.` });

const pieces = (what: string) => optionalNumber({ what, low: 0, high: 100_000 });
const wholePieces = pieces('how many pieces there are').pipe(
  z.number().int('Enter a whole number of pieces.').nullable(),
);

/** 1 a little, 2 about a third, 3 most of it; null where nobody said. */
const grade = optionalNumber({ what: 'how much of it', low: 1, high: 3 }).pipe(
  z.number().int('Choose how much of it from the list.').nullable(),
);

/** What every entry has: the key that the device made, when it was tapped, and what a person would call it by. */
const common = {
  id,
  at: z.iso.datetime({ offset: true, error: 'Say when, like 2026-11-24T08:12:00Z.' }).nullish(),
  /** "R46-TKR, B7": so that an entry that was not taken can be read by a person. */
  label: optionalText(200),
  /** Whose tap it was, where a tablet changed hands before it was sent. */
  notedBy: optionalChosen(),
  /** The entry that was not taken and that this one puts right. */
  mends: optionalChosen(),
};

/** Slots of the rack that stand empty now, "A7 A8": as a tablet writes them with spaces between, or ticked on a form. */
const emptied = z
  .union([z.string(), z.array(z.string())], { error: 'Send the names of slots, with spaces between.' })
  .nullish()
  .transform((names) => [names ?? ''].flat().join(' '))
  .pipe(z.string().max(2000, 'These are too many slots.'))
  .transform((names) =>
    names
      .toUpperCase()
      .split(/\s+/)
      .filter((name) => name !== ''),
  );

/** Keys with spaces between. */
const keys = z
  .string({ error: 'Send the keys of looks, with spaces between.' })
  .max(20_000, 'These are too many looks.')
  .nullish()
  .transform((text) => (text ?? '').split(/\s+/).filter((key) => key !== ''))
  .pipe(z.array(id));

const rackWell = z.object({
  ...common,
  kind: z.literal('rack_well'),
  rackId: open('a rack'),
  /** The looks of its lots that were not well, as the screen showed them: those lots are no worse now. */
  asBefore: keys,
  /** Lots of which the tablet holds a note that was not taken: the tap says nothing of them. */
  unsaid: keys,
});

/** How it looks against the look before; null where nobody said. */
const compared = z
  .enum(['', ...COMPARISONS], { error: 'Choose how it compares with the look before.' })
  .nullish()
  .transform((word) => (word === '' ? null : (word ?? null)));

const condition = z.object({
  ...common,
  kind: z.literal('condition'),
  lotId: open('a lot'),
  rackId: optionalChosen(),
  state: z.enum(CONDITION_STATES, { error: 'Choose what you see.' }),
  grade,
  compared,
  /** With 'pest': which one, by its code, and how many were counted. */
  pest: pestCode(),
  pestCount: pestCount(),
  note: optionalText(1000),
  /** How many are there now; empty where nobody counted. */
  pieces: wholePieces,
  cause: lossCause(),
  emptied,
});

const count = z.object({
  ...common,
  kind: z.literal('count'),
  lotId: open('a lot'),
  rackId: optionalChosen(),
  pieces: wholePieces.pipe(z.number({ error: 'Enter how many pieces there are.' })),
  note: optionalText(1000),
  emptied,
});

/** What a stocktake counts on a rack: `n_<lot>` for each lot, `found_1` and `foundPieces_1` for what else stands there. */
const shelfCount = z.looseObject({
  ...common,
  kind: z.literal('shelf_count'),
  stocktakeId: open('a stocktake'),
  rackId: open('a rack'),
});

const feeding = z.object({
  ...common,
  kind: z.literal('feeding'),
  systemId: open('a system'),
  tankId: optionalChosen(),
  food: text('what was fed'),
  amountG: optionalNumber({ what: 'the amount', low: 0.001, high: 1e5 }),
  /** The unit of the amount, where it is not grams. */
  amountUnit: choice(unitChoices.mass, 'Choose the unit of the amount.').optional(),
  /** Why it was fed although something holds it; and that the amount is correct, though far from the usual. */
  reason: optionalText(500),
  sure: tick(),
  pumpsOffMin: optionalNumber({
    what: 'how long the pumps are off',
    low: 1,
    high: 240,
    unit: 'min',
  }).transform((minutes) => (minutes === null ? null : Math.round(minutes))),
});

/** The pumps run again. The feeding is named by its own key, or by the key of the entry that noted it. */
const pumpsOn = z.object({ ...common, kind: z.literal('pumps_on'), feedingId: open('a feeding') });

/** Something is switched off for now. */
const switchedOff = z.object({
  ...common,
  kind: z.literal('switch_off'),
  systemId: open('a system'),
  pick: text('what is off', 60),
  why: text('why it is off', 200),
  minutes: offMinutes,
});

/** It was seen running again. It is named by its own key, or by the key of the entry that noted it. */
const seenRunning = z.object({
  ...common,
  kind: z.literal('seen_running'),
  offId: open('what was off'),
  seen: optionalText(300),
});

/** Something is wrong with equipment; `key` where a check found it. */
const fault = z.object({
  ...common,
  kind: z.literal('fault'),
  systemId: open('a system'),
  equipmentId: optionalChosen(),
  key: optionalText(200),
  seen: text('what you see', 500),
});

/** Something happened after which the water is used otherwise. */
const happened = z.object({
  ...common,
  kind: z.literal('event'),
  systemId: open('a system'),
  event: choice(eventCodes, 'Choose what happened.'),
  note: optionalText(500),
});

/** A piece of due work ticked off, by its key; the planned amount where none is said. */
const task = z.object({
  ...common,
  kind: z.literal('task'),
  systemId: open('a system'),
  key: text('which work', 100),
  amount: optionalNumber({ what: 'the amount', low: 1e-6, high: 1e7 }),
  /** As the screen said, so that a tablet without network can keep the pumps' time. */
  pumpsOffMin: optionalNumber({ what: 'how long the pumps are off', low: 1, high: 240, unit: 'min' }),
  note: optionalText(500),
});

const skipped = z.object({
  ...common,
  kind: z.literal('skipped'),
  rackId: open('a rack'),
  note: text('why it is left out', 300),
});

/** One test's result, as the test showed it. */
const reading = z.object({
  ...common,
  kind: z.literal('reading'),
  systemId: open('a system'),
  quantityCode: text('which quantity', 60),
  text: text('what was read', 60),
  unit: optionalText(40),
  /** "<method>" or "<method>/<kit>". */
  how: optionalText(80),
  /** The sample was diluted to so many times its volume. */
  dilution: dilutionField(),
  sure: tick(),
  note: optionalText(500),
});

/** How what was fed was taken. The feeding is named by its own key, or by the key of the entry that noted it. */
const response = z.object({
  ...common,
  kind: z.literal('response'),
  feedingId: open('a feeding'),
  response: text('how it was taken', 300),
});

/** A step of a system or a chore of the farm's own, by its key. */
const chore = z.object({
  ...common,
  kind: z.literal('chore'),
  key: text('what was done', 200),
  note: optionalText(500),
});

/** Something a tablet held that the service did not take, left out by a person's word. */
const discarded = z.object({
  ...common,
  kind: z.literal('discarded'),
  what: text('what is left out', 2000),
  why: text('why it is left out', 300),
});

/** What was tapped by mistake is taken back, by its key: as if it had not been tapped, whichever of the two comes first. */
const takeBack = z.object({ ...common, kind: z.literal('take_back'), entryId: open('what is taken back') });

/** The walk is over. */
const finished = z.object({ ...common, kind: z.literal('finished') });

/** One thing tapped on a round. Forms and tablets send the same. */
export const entrySchema = z.discriminatedUnion(
  'kind',
  [
    rackWell,
    condition,
    count,
    shelfCount,
    feeding,
    pumpsOn,
    switchedOff,
    seenRunning,
    fault,
    happened,
    response,
    reading,
    task,
    chore,
    skipped,
    discarded,
    takeBack,
    finished,
  ],
  { error: 'Nothing of this kind can be noted on a round.' },
);

export type Entry = z.output<typeof entrySchema>;

/** The most that is taken in one request; a tablet sends the rest with the next. */
export const ENTRIES_AT_ONCE = 200;

/** An entry that can be kept whatever else it says: it has a key. */
export const keyedEntry = z.looseObject({ id }, { error: 'This is not an entry.' });
export type KeyedEntry = z.output<typeof keyedEntry>;

/** What a tablet sends: entries in the order they were tapped. Each is judged by itself. */
export const entryList = z
  .array(z.unknown(), { error: 'Send a list of entries.' })
  .min(1, 'Send at least one entry.')
  .max(ENTRIES_AT_ONCE, `Send at most ${ENTRIES_AT_ONCE} entries at once.`);
