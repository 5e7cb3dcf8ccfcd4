import { describe, expect, test } from 'vitest';
import { type LookEvent, looksDue } from '../../../src/science/numeric/looks-due.ts';

const at = (minutes: number) => new Date(Date.UTC(2026, 10, 30, 17, minutes));
const asked = (key: string, due: number | null): LookEvent => ({ key, due: due === null ? null : at(due) });
const looked = (minutes: number): LookEvent => ({ looked: at(minutes) });
const due = (...events: LookEvent[]) => looksDue(events);

describe('looks that are still to be taken', () => {
  test('a later one leaves an earlier one as it is, whichever was asked for first', () => {
    const both = [
      ['oxygen', at(30)],
      ['tests', at(720)],
    ];
    expect(due(asked('oxygen', 30), asked('tests', 720))).toEqual(both);
    expect(due(asked('tests', 720), asked('oxygen', 30))).toEqual(both);
  });
  test('the same one asked for again has its new time alone', () =>
    expect(due(asked('oxygen', 30), asked('oxygen', 55))).toEqual([['oxygen', at(55)]]));
  test('what is no longer asked for is gone', () =>
    expect(due(asked('oxygen', 30), asked('tests', 720), asked('oxygen', null))).toEqual([
      ['tests', at(720)],
    ]));
  test('who looks has seen to all that was due by then', () =>
    expect(due(asked('oxygen', 30), asked('', 40), asked('tests', 720), looked(45))).toEqual([
      ['tests', at(720)],
    ]));
  test('who looks early has seen to the next one', () =>
    expect(due(asked('oxygen', 30), asked('tests', 720), looked(20))).toEqual([['tests', at(720)]]));
  test('a look that nobody asked for changes nothing', () => expect(due(looked(5))).toEqual([]));
});
