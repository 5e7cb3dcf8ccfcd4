import type { Advice } from '../../../../src/alerts/advice.ts';
import type { Code } from '../hands/book.ts';

/** What a hand does on one step, as far as it can be done on this farm. */
export type Deed =
  | {
      do: 'check';
      thing:
        | 'doser'
        | 'heater'
        | 'pumps'
        | 'top-up'
        | 'lamps'
        | 'food'
        | 'changes'
        | 'neighbours'
        | 'pests'
        | 'cuts';
    }
  | { do: 'test'; code: Code | 'same' | 'all' }
  | { do: 'set dose'; way: 'up' | 'down' }
  | {
      do:
        | 'note container'
        | 'check kit'
        | 'new kit'
        | 'look'
        | 'hold dose'
        | 'raise alkalinity'
        | 'move salinity';
    }
  | {
      do:
        | 'change water'
        | 'plan changes'
        | 'skim'
        | 'feed less'
        | 'air'
        | 'move lots'
        | 'dim lamps'
        | 'set apart';
    };

/**
 * What the words of a step lead a hand to. He understands no more than stands there: a step that names no thing and asks
 * for no act does nothing.
 */
const words: readonly (readonly [said: RegExp, deeds: readonly Deed[]])[] = [
  [
    /(look (at|into|for)|compare|stop) [^.]*\b(doser|what supplies it|container)|dosing by hand|gives too little/i,
    [{ do: 'check', thing: 'doser' }],
  ],
  [/note what is left in the dosing container/i, [{ do: 'note container' }]],
  [/heater|cooler|controller|chiller/i, [{ do: 'check', thing: 'heater' }]],
  [/every pump|switch the pumps on|return pump|\bpumps? turns?\b/i, [{ do: 'check', thing: 'pumps' }]],
  [/top-up|float|adds fresh water/i, [{ do: 'check', thing: 'top-up' }]],
  [
    /(look at|clean) [^.]*\blamps\b|measure the light|measure at a dozen|compare its light/i,
    [{ do: 'check', thing: 'lamps' }],
  ],
  [/\bneighbours?\b/i, [{ do: 'check', thing: 'neighbours' }]],
  [
    /look at (the|its) stock|look at the animals|look at it again|look again in|with a lens/i,
    [{ do: 'look' }],
  ],
  [/follow the label|open the watch for this pest/i, [{ do: 'check', thing: 'pests' }]],
  [/new food|what is fed|\bfood\b.*\bchanged\b/i, [{ do: 'check', thing: 'food' }]],
  [/take the changes up again/i, [{ do: 'check', thing: 'changes' }]],
  [/see to these cuts/i, [{ do: 'check', thing: 'cuts' }]],
  [/too: cut on the same day/i, [{ do: 'look' }]],
  [/put this kit away/i, [{ do: 'new kit' }]],
  [/a standard|this kit against another|third bottle/i, [{ do: 'check kit' }]],
  [
    /test (it )?(again|once more|on the next round)|second test|another kit|read it again|second (thermometer|instrument)/i,
    [{ do: 'test', code: 'same' }],
  ],
  [
    /test now:|test salinity|look at nitrate and alkalinity|alkalinity, salinity, temperature/i,
    [{ do: 'test', code: 'all' }],
  ],
  [/look at nitrate first/i, [{ do: 'test', code: 'nitrate' }]],
  [/test alkalinity|look at alkalinity first/i, [{ do: 'test', code: 'alkalinity' }]],
  [/look at (the doser and )?the salinity/i, [{ do: 'test', code: 'salinity' }]],
];

/** The deeds of one piece of advice, in order: what its words name, then what its acts ask for. */
export function deedsOf({ text, phase, acts }: Advice): Deed[] {
  const named = words.flatMap(([said, deeds]) => (said.test(text) ? deeds : []));
  const acted = acts.flatMap(({ lever, direction, quantity }): Deed[] => {
    switch (`${lever} ${direction}`) {
      case 'dose down':
        return phase === 'source'
          ? [{ do: 'check', thing: 'doser' }, { do: 'hold dose' }]
          : [{ do: 'set dose', way: 'down' }];
      case 'dose up':
        return phase === 'source' ? [{ do: 'check', thing: 'doser' }] : [{ do: 'set dose', way: 'up' }];
      case 'level up':
      case 'level down':
        if (quantity === 'salinity') return [{ do: 'move salinity' }];
        return quantity === 'alkalinity' && direction === 'up' ? [{ do: 'raise alkalinity' }] : [];
      case 'heating up':
      case 'heating down':
        return [{ do: 'check', thing: 'heater' }];
      case 'top-up down':
      case 'top-up up':
        return [{ do: 'check', thing: 'top-up' }];
      case 'pumps do':
        return [{ do: 'check', thing: 'pumps' }];
      case 'air do':
        return [{ do: 'air' }];
      case 'water do':
        return phase === 'correct' ? [{ do: 'change water' }] : [{ do: 'check', thing: 'changes' }];
      case 'export up':
        return [{ do: 'skim' }, { do: 'plan changes' }];
      case 'food down':
        return [{ do: 'feed less' }];
      case 'light down':
        return [{ do: 'dim lamps' }];
      case 'place do':
        return [{ do: 'move lots' }];
      case 'apart do':
        return [{ do: 'set apart' }];
      default:
        return [];
    }
  });
  return [...named, ...acted];
}
