import { dateWords, numberWords, plural } from '../platform/words.ts';
import type { RackLight } from './rack-light.ts';

/** Scaled further than this, up or down, the light is a rough guess (a lamp's dimmer is not straight). */
const FAR = 2;

/** On when and how a rack's light was measured, to within what, and whether the lamps were turned since. */
export function lightSentences(light: RackLight | null, timeZone: string): string[] {
  if (light === null)
    return ['The light here was never measured, so nothing can be said of what the lots get.'];
  const { surveyPercent, lampPercent, lampSetAt, measuredAt, widestError } = light;
  const at = surveyPercent === null ? '' : `, lamps at ${numberWords(surveyPercent)} %`;
  const slots = plural(light.readings, 'slot', 'slots');
  const scale = surveyPercent === null || lampPercent === null ? 1 : lampPercent / surveyPercent;
  // Two standard errors: 19 slots in 20 lie within.
  const within =
    widestError === null ? '' : `; between them estimated to within ${Math.ceil(2 * widestError * scale)}`;
  const measured = `Light measured on ${dateWords(measuredAt, timeZone)} at ${slots}${at}${within}.`;
  if (scale === 1 || lampPercent === null) return [measured];
  const since = lampSetAt !== null && lampSetAt > measuredAt ? ` on ${dateWords(lampSetAt, timeZone)}` : '';
  const turned = `Lamps ${since === '' ? 'stand at' : 'were turned to'} ${numberWords(lampPercent)} %${since}: the numbers below are scaled and want measuring again.`;
  const far = scale > FAR || scale < 1 / FAR ? ['So far from what was measured they are a rough guess.'] : [];
  return [measured, turned, ...far];
}
