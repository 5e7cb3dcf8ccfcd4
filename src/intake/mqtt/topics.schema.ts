import { z } from 'zod';
import { choice, optionalChosen, optionalText } from '../../platform/web/fields.ts';
import { filterFault, isWide, longestFilter } from './filters.rules.ts';

/** What a form brings that says how a topic is read. */
export const topicSchema = z
  .object({
    filter: optionalText(longestFilter),
    payload: choice(['number', 'senml', 'status'], 'Choose what comes on it.'),
    unit: optionalText(20),
    silentWord: optionalText(100),
    systemId: optionalChosen(),
    kitId: optionalChosen(),
  })
  .superRefine(({ filter, payload, unit, systemId, kitId }, context) => {
    const refuse = (path: string, message: string) =>
      context.addIssue({ code: 'custom', path: [path], message });
    const fault = filterFault(filter);
    if (fault !== null) refuse('filter', fault);
    if (payload === 'number' && unit === '')
      refuse('unit', 'Enter the unit of the numbers: degC, pH, mS/cm.');
    if (systemId === null && kitId === null) return;
    if (payload !== 'number')
      refuse('systemId', 'Only a plain number is placed here. Names within SenML are placed under Probes.');
    else if (isWide(filter))
      refuse('systemId', 'Each topic behind + or # is placed under Probes, once something has come on it.');
    else if (systemId === null) refuse('systemId', 'Choose the system it measures.');
    else if (kitId === null) refuse('kitId', 'Choose the instrument.');
  });

export type TopicInput = z.output<typeof topicSchema>;
