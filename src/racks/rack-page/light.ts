import type pg from 'pg';
import { ATTENUATION_PER_M } from '../../farm/light/remounting.rules.ts';
import { lengthWords } from '../../platform/units/measures.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';

/** How the light on a rack is known: its last survey, and what changed since. */
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
  /** Mounted otherwise since the survey: when, how much deeper (mm, below 0: higher), and whether under other lamps. */
  moved: boolean;
  movedAt: Date | null;
  deeperMm: number;
  otherLamp: boolean;
}

const query = `
  SELECT light.survey_id AS "surveyId", light.measured_at AS "measuredAt", light.survey_percent AS "surveyPercent",
         (SELECT count(*)::int FROM slot_light WHERE survey_id = light.survey_id AND measured) AS readings,
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

/** Beyond this ratio of settings, up or down, scaled light is a rough guess (own choice: dimmers are not linear). */
const FAR_RATIO = 2;

/** The light of a rack in sentences: when and how it was measured, how exact it is, and what changed since. */
export function lightSentences(light: RackLight | null, timeZone: string): string[] {
  if (light === null) return ['No PAR readings yet, so what the lots get is not known.'];
  const { surveyPercent, lampPercent, lampSetAt, measuredAt, widestError } = light;
  const at = surveyPercent === null ? '' : `, lamps at ${numberWords(surveyPercent)} %`;
  const slots = plural(light.readings, 'slot', 'slots');
  const comparable = surveyPercent !== null && lampPercent !== null && !light.otherLamp;
  const scale = comparable ? lampPercent / surveyPercent : 1;
  // Two standard errors: about 19 in 20 slots lie within them.
  const within =
    widestError === null ? '' : `; between them estimated to within ${Math.ceil(2 * widestError * scale)}`;
  const measured = `Light measured on ${dateWords(measuredAt, timeZone)} at ${slots}${at}${within}.`;
  const moved = light.moved ? [movedSentence(light, timeZone)] : [];
  if (scale === 1 || lampPercent === null) return [measured, ...moved];
  const since = lampSetAt !== null && lampSetAt > measuredAt ? ` on ${dateWords(lampSetAt, timeZone)}` : '';
  const rescaled = `Lamps ${since === '' ? 'are at' : 'were turned to'} ${numberWords(lampPercent)} %${since}: the numbers below are scaled; measure again.`;
  const far =
    scale > FAR_RATIO || scale < 1 / FAR_RATIO
      ? ['So far from what was measured they are a rough guess.']
      : [];
  return [measured, ...moved, rescaled, ...far];
}

/** What a change of mounting since the survey did to the light. */
function movedSentence({ movedAt, deeperMm, otherLamp }: RackLight, timeZone: string): string {
  const when = movedAt === null ? '' : ` on ${dateWords(movedAt, timeZone)}`;
  const depth =
    deeperMm === 0
      ? ''
      : `, ${lengthWords(Math.abs(deeperMm))} ${deeperMm > 0 ? 'deeper' : 'higher'} (worked out with ${numberWords(ATTENUATION_PER_M)} per metre of water)`;
  const lamps = otherLamp ? ', under other lamps' : '';
  return `The rack was changed${when}${depth}${lamps}: the numbers below are an estimate until it is measured again.`;
}
