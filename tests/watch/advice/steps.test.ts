import { describe, expect, test } from 'vitest';
import { measure, noted } from '../../../src/alerts/advice.ts';
import { laterSteps, type Step, stepsOf } from '../../../src/alerts/steps.ts';
import { readersJson } from '../../../src/platform/units/reader-words.ts';
import { slipsIn } from '../../support/slips.ts';
import { foundIn, troubledWorld } from './worlds.ts';

// How advice reads as a list: over all that the rules say of random worlds. That an instruction holds one act and begins
// with its verb is common practice for emergency cards; the bound of twenty words is an own choice.

const mostWords = 20;
/** With what a step begins; a condition stands before its verb only where the step holds for nobody else. */
const begins = new Set(
  `Act Add Ask Blow Bring Calibrate Change Check Clean Close Compare Confirm Cool Correct Cut Dilute Do Dose Enter Export Feed Fix
   Follow Give Go Have Hold If Isolate Keep Leave Let Lift Log Look Lower Make Measure Move Never Open Or Photograph Plan Record
   Pour Put Raise Read Rely Repair Repeat Rinse Say See Set Shade Stay Stir Stop Switch Take Test Then Turn Type Unplug Use Warm
   Watch Wear Begin Lock Start Note Cover Wipe`.split(/\s+/),
);

const found = Array.from({ length: 220 }, (_, seed) => foundIn(troubledWorld(seed + 1))).flat();
const steps = found.flatMap((finding) =>
  readersJson(stepsOf(finding)).map((step) => ({ rule: finding.rule, ...step })),
);
const wordsIn = (text: string) => text.replaceAll(/“[^”]*”/g, 'name').match(/\p{L}{2,}/gu) ?? [];
const unlike = (wrong: (step: Step) => boolean) => [
  ...new Set(steps.filter(wrong).map(({ rule, text }) => `${rule}: ${text}`)),
];

describe('what to do first', () => {
  test('is a list for every rule', () => {
    expect(found.filter((finding) => stepsOf(finding).length === 0)).toEqual([]);
  });

  test('has steps that begin with what is done', () => {
    expect(unlike(({ text }) => !begins.has(text.split(/[ ,:]/)[0] ?? ''))).toEqual([]);
  });

  test('has steps of at most twenty words', () => {
    expect(unlike(({ text }) => wordsIn(text).length > mostWords)).toEqual([]);
  });

  test('and all else that rules say is put together without a slip', () => {
    const said = found.flatMap(
      ({ rule, title, numbers, why, question = '', figures, number, limit, evidence }) =>
        [
          title,
          numbers,
          why,
          question,
          ...figures.map(({ label, text }) => `${label}: ${text}`),
          `${number.label}: ${number.text}`,
          `${limit.label}: ${limit.text}`,
          limit.source,
          ...evidence.flatMap(({ text, note }) => [text, note]),
        ].map((text) => ({ rule, text })),
    );
    const slipped = [
      ...steps,
      ...steps.map(({ rule, note }) => ({ rule, text: note })),
      ...readersJson(said),
    ].flatMap(({ rule, text }) => slipsIn(text).map((slip) => `${rule}: ${slip}`));
    expect([...new Set(slipped)]).toEqual([]);
  });

  test('has steps that are whole sentences', () => {
    expect(unlike(({ text, note }) => !/[.!?]$/.test(text) || !/^$|[.!?]$/.test(note))).toEqual([]);
  });
});

test('a sentence is a step; what stands in quotation marks is left whole, and a note goes with the last step', () => {
  const advice = [
    { ...noted(measure('Check “Kit No. Two. New”. Test again.'), 'It is old.') },
    { ...measure('Move it.'), waits: true as const },
  ];
  expect(stepsOf({ advice })).toEqual([
    { text: 'Check “Kit No. Two. New”.', note: '' },
    { text: 'Test again.', note: 'It is old.' },
  ]);
  expect(laterSteps({ advice })).toEqual([{ text: 'Move it.', note: '' }]);
  expect(stepsOf({ advice: [], firstStep: 'Wait. Look again.' })).toHaveLength(2);
});
