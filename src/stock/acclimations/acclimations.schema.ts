import { z } from 'zod';
import { startField } from '../../platform/plans/plans.schema.ts';
import { choice, many, optionalChosen, optionalNumber, optionalText } from '../../platform/web/fields.ts';

/** What is known of the light lots had before: how it is stored, and how people say it. */
export const RECEIVED = {
  here: 'known from the places on this farm',
  unknown: 'nobody knows it',
  stated: 'as the sender says',
  measured: 'measured at the sender’s',
} as const;

/** The light of senders without a meter, umol/(m2 s) (common practice). */
export const LIGHT_WORDS = { dim: 60, medium: 120, bright: 220 } as const;

const receivedCodes = Object.keys(RECEIVED) as [Received, ...Received[]];
const ids = many().pipe(z.array(z.uuid({ error: 'Choose of the list.' })));
const parRange = { low: 1, high: 2000, unit: 'µmol/(m² s)' };

/** What a form or a request says of an acclimation. */
export const acclimationRequestSchema = (siteId: string, today: string) =>
  z
    .object({
      lots: ids,
      lamp: optionalChosen(),
      percent: optionalNumber({ what: 'the setting', low: 1, high: 100, unit: 'per cent' }),
      without: ids,
      system: optionalChosen(),
      purpose: choice(['light', 'recovery'], 'Choose what it is for.').default('light'),
      received: choice(receivedCodes, 'Say what is known of the light before.').default('here'),
      fromPar: optionalNumber({ what: 'the light before', ...parRange }),
      fromWords: choice(['', 'dim', 'medium', 'bright'], 'Choose one of the list.').default(''),
      fromHours: optionalNumber({ what: 'the hours of light', low: 1, high: 24, unit: 'hours' }),
      targetPar: optionalNumber({ what: 'the light to go to', ...parRange }),
      slot: ids,
      startsOn: startField(today),
      name: optionalText(80),
      reason: optionalText(300),
    })
    .superRefine(({ lamp, percent, received, fromPar, fromWords }, context) => {
      const say = (path: string, message: string) =>
        context.addIssue({ code: 'custom', path: [path], message });
      if (lamp !== null && percent === null) say('percent', 'Enter the setting to go to.');
      const known = fromPar !== null || fromWords !== '';
      if (lamp === null && (received === 'stated' || received === 'measured') && !known)
        say('fromPar', 'Enter the light before, or choose it in words.');
    })
    .transform((typed): AcclimationRequest => {
      const { startsOn, name, reason, lamp, percent } = typed;
      const common = { siteId, startsOn, name, reason };
      if (lamp !== null)
        return {
          ...common,
          means: { by: 'lamps', lampId: lamp, percent: percent ?? 0, without: typed.without },
        };
      const inWords = typed.fromWords === '' ? null : LIGHT_WORDS[typed.fromWords];
      return {
        ...common,
        means: {
          by: 'places',
          lotIds: typed.lots,
          systemId: typed.system,
          purpose: typed.purpose,
          received: typed.received,
          fromPar: typed.fromPar ?? inWords,
          fromHours: typed.fromHours,
          targetPar: typed.targetPar,
          targetSlotIds: typed.slot,
        },
      };
    });

export type Received = keyof typeof RECEIVED;

/** How an acclimation is wished; PAR in umol/(m2 s), hours of full light a day. */
export interface AcclimationRequest {
  siteId: string;
  name: string;
  reason: string;
  /** Local day of the first step, "2026-11-24". */
  startsOn: string;
  means: PlaceMeans | LampMeans;
}

/** From place to place in a system. */
export interface PlaceMeans {
  by: 'places';
  lotIds: readonly string[];
  /** The system in which places are sought; null: the one in which the lots stand. */
  systemId: string | null;
  purpose: 'light' | 'recovery';
  received: Received;
  /** Stated or measured light, or the low start where nobody knows; null: the dim end of their kinds. */
  fromPar: number | null;
  fromHours: number | null;
  /** A light to go to, or slots of one rack. */
  targetPar: number | null;
  targetSlotIds: readonly string[];
}

/** By turning lamps, for every lot beneath them but those that are moved away. */
export interface LampMeans {
  by: 'lamps';
  lampId: string;
  percent: number;
  without: readonly string[];
}
