import { Refusal } from '../../platform/refusal.ts';
import { fieldErrors } from '../../platform/views/field-errors.ts';
import { cleanText, cleanTexts } from '../../platform/web/clean-text.ts';
import { packSchema, type ResolvedRecord, resolvePack } from '../senml/senml.rules.ts';

/** How what comes on a topic is read. */
export interface Reading {
  payload: 'senml' | 'number' | 'status';
  /** Of plain numbers. */
  unit: string;
  /** What the last will of a device says. */
  silentWord: string;
}

/** A message as it came. `arrivedAt` in seconds of Unix time. */
export interface Message {
  topic: string;
  payload: Uint8Array;
  arrivedAt: number;
  /** The broker had kept it as the topic's last. */
  retained: boolean;
}

/** What a message says: values, whether a device is there, or why it cannot be read. */
export type Told = { records: ResolvedRecord[] } | { silent: boolean } | { fault: string };

const plainNumber = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i;
const shown = (text: string) => (text.length > 40 ? `${text.slice(0, 40)}…` : text);

/** The longest topic of which anything is kept: the longest name of a probe (own choice; MQTT allows 65,535 bytes). */
export const longestTopic = 300;

/** Reads a message as its topic is said to be read. A value that states no time is of when the message arrived. */
export function readMessage(reading: Reading, message: Message): Told {
  if (message.topic.length > longestTopic)
    return { fault: `has a topic of more than ${longestTopic} characters` };
  let text: string;
  try {
    text = cleanText(new TextDecoder('utf-8', { fatal: true }).decode(message.payload)).trim();
  } catch {
    return { fault: 'is not text in UTF-8' };
  }
  if (reading.payload === 'status')
    return { silent: text.toLowerCase() === reading.silentWord.toLowerCase() };
  const told = reading.payload === 'senml' ? readPack(text, message) : readPlain(text, reading, message);
  if ('records' in told && message.retained && told.records.some(({ timed }) => !timed))
    return {
      fault: 'was kept by the broker (retained) and states no time: when it was measured is not known',
    };
  return told;
}

function readPlain(text: string, { unit }: Reading, { topic, arrivedAt }: Message): Told {
  if (text === '') return { fault: 'is empty' };
  const v = plainNumber.test(text) ? Number(text) : Number.NaN;
  if (!Number.isFinite(v))
    return { fault: `"${shown(text)}" is not a plain number, with a point before its decimals` };
  return { records: [{ n: topic, u: unit, t: arrivedAt, v, timed: false }] };
}

function readPack(text: string, { arrivedAt }: Message): Told {
  let body: unknown;
  try {
    body = cleanTexts(JSON.parse(text));
  } catch (error) {
    return { fault: error instanceof Refusal ? error.message : 'That is not valid JSON.' };
  }
  const parsed = packSchema.safeParse(body);
  if (!parsed.success) {
    const [first] = fieldErrors(parsed.error);
    return { fault: first === undefined ? 'is no SenML' : said(first) };
  }
  return resolvePack(parsed.data, arrivedAt);
}

/** "Invalid input (0.v)": what is wrong, and where. */
const said = ({ field, message }: { field: string; message: string }) =>
  field === '' ? message : `${message} (${field})`;
