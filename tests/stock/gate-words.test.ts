import { expect, test } from 'vitest';
import { gateAnswer } from '../../src/stock/pests/gate.rules.ts';

test('several alerts on one water are told in one sentence', () => {
  const troubles = ['Long run: temperature is above its band', 'Long run: oxygen falls'];
  expect(gateAnswer('cut', [], null, troubles)).toMatchObject({
    answer: 'asked',
    why: 'Alerts are open on this water: Long run: temperature is above its band; Long run: oxygen falls.',
  });
  expect(gateAnswer('cut', [], null, troubles.slice(0, 1)).why).toBe(
    'An alert is open on this water: Long run: temperature is above its band.',
  );
  expect(gateAnswer('cut', [], null).answer).toBe('free');
});
