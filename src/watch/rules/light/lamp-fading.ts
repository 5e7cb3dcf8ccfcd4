import { advised, asking, measure, optimise, up } from '../../../alerts/advice.ts';
import { type Evidence, type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { numberWords } from '../../../platform/words/numbers.ts';
import type { RackFact, SurveyFact, SystemFacts } from '../../facts/types.ts';
import { dateOfDay, figure } from '../shared/words.ts';

/** Surveys closer together than this tell more of the meter than of the lamps. */
const apartDays = 30;
/** Below this part of what opens it, it grows quiet. */
const quietPart = 0.7;

interface Fade {
  rack: RackFact;
  before: SurveyFact;
  now: SurveyFact;
  /** Part of the light that is gone at the same setting, per cent. */
  gone: number;
}

/** Light per lamp setting; null where the setting of neither is known to differ. */
const perSetting = ({ par, percent }: SurveyFact, other: SurveyFact) =>
  percent === null || percent <= 0 || other.percent === null ? par : (par / percent) * 100;

/** The newest survey against the brightest of those at least a month older, since the rack hangs as it does. */
function fadeOf(rack: RackFact): Fade | null {
  const now = rack.surveys.at(-1);
  if (now === undefined) return null;
  const older = rack.surveys.filter(
    ({ day }) => day <= now.day - apartDays && (rack.standsDay === null || day >= rack.standsDay),
  );
  const level = (survey: SurveyFact) => perSetting(survey, now);
  const [before] = older.sort((a, b) => level(b) - level(a));
  if (before === undefined || level(before) <= 0) return null;
  const gone = (survey: SurveyFact) => 100 * (1 - perSetting(now, survey) / level(survey));
  return wasBrightBetween(rack.surveys, before, gone) ? null : { rack, before, now, gone: gone(before) };
}

/** Surveys that differ by less than this part, per cent, agree; own choice: what opens an alert is half as much again. */
const agreeWithin = 10;

/**
 * Whether a bright survey stands alone: those before it show as little light as the last two after it. Lamps that nobody changed
 * give no more light for a while, so they were turned up or cleaned then, and give what they gave.
 *
 * @param gone how much less the newest survey shows than another one, per cent
 */
function wasBrightBetween(
  surveys: readonly SurveyFact[],
  bright: SurveyFact,
  gone: (survey: SurveyFact) => number,
): boolean {
  const at = surveys.indexOf(bright);
  const agrees = (survey: SurveyFact | undefined) =>
    survey !== undefined && Math.abs(gone(survey)) < agreeWithin;
  return agrees(surveys[at - 1]) && surveys.length - 2 > at && agrees(surveys.at(-2));
}

/** Lamps (or racks without named lamps) that give less at one setting than they did. */
export function fadingLamps(
  facts: SystemFacts,
  { fading, worn }: { fading: number; worn: number },
  today: number,
): Finding[] {
  const fades = facts.racks
    .map(fadeOf)
    .filter((fade): fade is Fade => fade !== null && fade.gone >= fading * quietPart);
  const groups = [...Map.groupBy(fades, ({ rack }) => rack.lampId ?? rack.id).values()];
  return groups.map((group) => finding(facts, group, { fading, worn }, today));
}

function finding(
  facts: SystemFacts,
  fades: readonly Fade[],
  { fading, worn }: { fading: number; worn: number },
  today: number,
): Finding {
  const [worst] = [...fades].sort((a, b) => b.gone - a.gone) as [Fade];
  const { rack, before, now, gone } = worst;
  const lamp = facts.lamps.find(({ id }) => id === rack.lampId);
  const severity: Severity = gone >= worn ? 'today' : 'watch';
  return {
    ...plainFinding,
    rule: 'light-step',
    subject: lamp === undefined ? { type: 'rack', id: rack.id } : { type: 'lamp', id: lamp.id },
    facet: 'fading',
    systemId: facts.systemId,
    href: lamp === undefined ? `/racks/${rack.id}` : `/lamps/${lamp.id}/settings`,
    status: gone >= fading ? 'fires' : 'stays',
    severity,
    score: gone / fading,
    title: `${lamp === undefined ? rack.name : `Lamps “${lamp.name}”`}: gives ${numberWords(gone, 0)} % less light`,
    numbers: `${numberWords(perSetting(before, now), 0)} to ${numberWords(perSetting(now, before), 0)} µmol/(m² s)${before.percent !== null && now.percent !== null ? ' at full setting' : ''} between the surveys of ${dateOfDay(before.day, facts)} and ${dateOfDay(now.day, facts)}`,
    number: figure('Fall at one setting', gone, 0, '%'),
    limit: { ...figure('Told from', fading, 0, '%'), source: 'own choice: beyond two surveys’ error' },
    figures: [
      { label: 'Replaced, by practice, from', text: `${numberWords(worn, 0)} %` },
      { label: 'Racks that show it', text: fades.map((fade) => fade.rack.name).join(', ') },
      { label: 'Days between the surveys', text: numberWords(now.day - before.day, 0) },
      { label: 'Days since the last', text: numberWords(today - now.day, 0) },
      ...(before.meter === now.meter
        ? []
        : [{ label: 'Meters', text: `${before.meter}, then ${now.meter}: two meters can differ as much` }]),
    ],
    why: 'Lamps and glass give less with age and dirt. The lots follow it down; new lamps at the old setting are then a step up that burns them.',
    ...advised(
      asking('light', measure('Clean the lamps and the glass, then measure again.')),
      optimise(
        'Measure before lamps are replaced. Start new ones lower and raise them by steps.',
        up('light'),
      ),
    ),
    evidence: fades.flatMap((fade) =>
      [fade.now, fade.before].map((survey) => surveyEvidence(fade.rack, survey)),
    ),
  };
}

/** A survey as evidence. */
export const surveyEvidence = (
  { name }: RackFact,
  { id, at, par, percent, meter }: SurveyFact,
): Evidence => ({
  kind: 'light survey',
  id,
  at,
  text: `${name}: ${numberWords(par, 0)} µmol/(m² s) on average`,
  note: [percent === null ? '' : `lamps at ${numberWords(percent)} %`, meter]
    .filter((text) => text !== '')
    .join(', '),
});
