import type { BlockList } from 'node:net';
import { z } from 'zod';
import { many, text } from '../../platform/web/fields.ts';
import { faultOfAddress } from './addresses.rules.ts';
import { hookEvents } from './events.rules.ts';

const codes = hookEvents.map(({ code }) => code) as [string, ...string[]];

const chosenEvents = () =>
  many()
    .pipe(z.array(z.enum(codes, 'Choose from the list.')).min(1, 'Choose at least one event.'))
    .transform((chosen) => [...new Set(chosen)]);

/** Which events a webhook is told of. */
export const eventsSchema = z.object({ events: chosenEvents() });

/** A new webhook. @param house networks that may be reached besides the public internet */
export const webhookSchema = (house: BlockList) =>
  z
    .object({ address: text('the address of the receiver', 500), events: chosenEvents() })
    .superRefine(({ address }, context) => {
      const fault = faultOfAddress(address, house);
      if (fault !== null) context.addIssue({ code: 'custom', path: ['address'], message: fault });
    });
