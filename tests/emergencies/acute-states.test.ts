import { describe, expect, test } from 'vitest';
import { events, findEvent } from '../../src/emergencies/events/events.rules.ts';
import { acuteStates } from '../../src/water/acute/acute-states.rules.ts';
import { acuteCautions } from '../../src/water/corrections/acute.rules.ts';

// An acute state has one rate and one next test, wherever it is spoken of.

/** The page of steps on which a state is dealt with. */
const pages: Readonly<Record<string, string>> = {
  'temperature below': 'cold',
  'temperature above': 'warm',
  'salinity below': 'salinity',
  'salinity above': 'salinity',
  'alkalinity below': 'alkalinity',
  'alkalinity above': 'overdose',
  'ph above': 'overdose',
  'ph below': 'ph-falls',
  'oxygen below': 'oxygen',
  'ammonia above': 'ammonia',
  'copper above': 'contamination',
};
const pageOf = (quantity: string, side: string) => findEvent(pages[`${quantity} ${side}`] ?? '');
const wordsOf = (steps: readonly { title: string; points: readonly string[] }[]) =>
  steps
    .flatMap(({ points }) => points)
    .join(' ')
    .toLowerCase();

describe('the steps in order', () => {
  test.each(acuteStates.map((state) => [`${state.quantity} ${state.side}`, state] as const))(
    'of %s have the rate of the table where they correct, and its next test at the end',
    (_, state) => {
      const { steps } = pageOf(state.quantity, state.side);
      const phase = (name: string) => steps.filter((step) => step.phase === name);
      expect(wordsOf(phase('correct'))).toContain(state.rate.words.toLowerCase());
      const later =
        /after [\d, ]+ and \d+ (?:hours|days)/.exec(state.again)?.[0] ?? state.again.toLowerCase();
      expect(wordsOf(phase('again'))).toContain(later);
      const [look] = phase('again');
      expect(look?.againMin).toBeLessThanOrEqual(state.againMinutes);
    },
  );

  test('have no rate an hour or a day beside that of the table', () => {
    const known = acuteStates
      .flatMap(({ rate, slow }) => [rate.words, slow])
      .join(' ')
      .toLowerCase();
    for (const { quantity, side } of acuteStates)
      for (const { phase, points } of pageOf(quantity, side).steps) {
        if (phase !== 'correct') continue;
        const rates = points
          .join(' ')
          .toLowerCase()
          .match(/[\d.]+(?: to [\d.]+)? (?:°c|dkh) (?:an hour|a day|a step)/g);
        for (const rate of rates ?? []) expect(known).toContain(rate);
      }
  });
});

test('a correction from an acute level says the same rate and the same next test', () => {
  for (const state of acuteStates) {
    const words = acuteCautions(state).join(' ');
    expect(words).toContain(state.rate.words);
    expect(words).toContain(state.again);
  }
});

test('whoever holds a key is among the numbers of all that harms within hours, whatever it is', () => {
  const hasty = events.filter(({ silenceMin }) => silenceMin === 5);
  expect(hasty.length).toBeGreaterThan(8);
  expect(hasty.filter(({ call }) => !call.includes('key_holder')).map(({ code }) => code)).toEqual([]);
});
