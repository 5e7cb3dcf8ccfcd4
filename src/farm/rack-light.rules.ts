import { dateWords, numberWords, plural } from '../platform/words.ts';
import type { RackLight } from './rack-light.ts';
import { ATTENUATION_PER_M } from './stands.rules.ts';

/** Scaled further than this, up or down, the light is a rough guess (a lamp's dimmer is not straight). */
const FAR = 2;

/** On when and how a rack's light was measured, to within what, and whether the lamps were turned since. */
export function lightSentences(light: RackLight | null, timeZone: string): string[] {
  if (light === null)
    return ['The light here was never measured, so nothing can be said of what the lots get.'];
  const { surveyPercent, lampPercent, lampSetAt, measuredAt, widestError } = light;
  const at = surveyPercent === null ? '' : `, lamps at ${numberWords(surveyPercent)} %`;
  const slots = plural(light.readings, 'slot', 'slots');
  const known = surveyPercent !== null && lampPercent !== null && !light.otherLamp;
  const scale = known ? lampPercent / surveyPercent : 1;
  // Two standard errors: 19 slots in 20 lie within.
  const within =
    widestError === null ? '' : `; between them estimated to within ${Math.ceil(2 * widestError * scale)}`;
  const measured = `Light measured on ${dateWords(measuredAt, timeZone)} at ${slots}${at}${within}.`;
  const moved = light.moved ? [movedSentence(light, timeZone)] : [];
  if (scale === 1 || lampPercent === null) return [measured, ...moved];
  const since = lampSetAt !== null && lampSetAt > measuredAt ? ` on ${dateWords(lampSetAt, timeZone)}` : '';
  const turned = `Lamps ${since === '' ? 'stand at' : 'were turned to'} ${numberWords(lampPercent)} %${since}: the numbers below are scaled and want measuring again.`;
  const far = scale > FAR || scale < 1 / FAR ? ['So far from what was measured they are a rough guess.'] : [];
  return [measured, ...moved, turned, ...far];
}

/** What being hung otherwise did to the surveyed light. */
function movedSentence({ movedAt, deeperMm, otherLamp }: RackLight, timeZone: string): string {
  const when = movedAt === null ? '' : ` on ${dateWords(movedAt, timeZone)}`;
  const depth =
    deeperMm === 0
      ? ''
      : `, ${numberWords(Math.abs(deeperMm) / 10)} cm ${deeperMm > 0 ? 'deeper' : 'higher'} (reckoned with ${numberWords(ATTENUATION_PER_M)} per metre of water)`;
  const lamps = otherLamp ? ', under other lamps' : '';
  return `The rack was hung otherwise${when}${depth}${lamps}: the numbers below are an estimate until it is measured again.`;
}
