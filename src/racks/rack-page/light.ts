import type pg from 'pg';
import { ATTENUATION_PER_M } from '../../farm/light/remounting.rules.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';

/** How a rack's light is known. */
export interface RackLight {
  surveyId: string;
  measuredAt: Date;
  readings: number;
  surveyPercent: number | null;
  /** Largest standard error of a slot that was not measured, as surveyed; null when every slot was. */
  widestError: number | null;
  /** The lamps' setting now and since when; null where none is noted. */
  lampPercent: number | null;
  lampSetAt: Date | null;
  /** Hung otherwise since the survey: when, how much deeper (mm, below 0: higher), and under other lamps. */
  moved: boolean;
  movedAt: Date | null;
  deeperMm: number;
  otherLamp: boolean;
}

const query = `
  SELECT light.survey_id AS "surveyId", light.measured_at AS "measuredAt", light.survey_percent AS "surveyPercent",
         (SELECT count(*)::int FROM light_survey_point WHERE survey_id = light.survey_id) AS readings,
         (SELECT max(slot_light.error) FROM slot_light JOIN slot ON slot.id = slot_light.slot_id
           WHERE survey_id = light.survey_id AND NOT measured AND slot.row <= rack.rows AND slot."column" <= rack.columns) AS "widestError",
         light.lamp_percent AS "lampPercent", light.lamp_set_at AS "lampSetAt", light.moved, light.moved_at AS "movedAt",
         rack.depth_mm - coalesce(light.depth_then_mm, rack.depth_mm) AS "deeperMm", light.other_lamp AS "otherLamp"
    FROM rack JOIN rack_light_now AS light ON light.rack_id = rack.id
   WHERE rack.id = $1`;

/** How the light on a rack is known; null when it was never measured. */
export async function rackLight(pool: pg.Pool, rackId: string): Promise<RackLight | null> {
  return (await pool.query<RackLight>(query, [rackId])).rows[0] ?? null;
}

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
