import type { Action } from '../../../../src/watch/answers/actions.ts';
import { onDay } from '../../../watch/facts.ts';
import { type System, timeOf } from '../farm/farm.ts';
import { dkh } from '../farm/water.ts';
import { type Code, type Entry, lastOf } from '../hands/book.ts';
import { type Hands, weeklyChange } from '../hands/hands.ts';
import { lookDay, tests } from '../hands/routine.ts';
import type { MakePolicy, Policy } from '../policies/policy.ts';
import { bands } from '../truth.ts';
import { actionsOf } from './acted.ts';
import { type Correction, neededByDemand, planUp } from './correcting.ts';
import { KnownSystem } from './facts.ts';
import { type Deed, deedsOf } from './reading-steps.ts';
import { TestSchedule } from './schedule.ts';
import { isTrueAlert } from './true-alerts.ts';
import { type Alert, keyOf, SystemWatch } from './watch.ts';

/** What of the service is used otherwise than usual. */
export interface ServiceOptions {
  /** Rules that are switched off. */
  without?: readonly string[];
  /** Tests as usual on this farm, or as often as the service proposes. */
  tests?: 'usual' | 'proposed';
}

/** The service, with these options. */
export const serviceWith =
  (options: ServiceOptions): MakePolicy =>
  (hands, from) =>
    new Service(hands, from, options);

/** One system as the service has it. */
interface Kept {
  system: System;
  /** Null where it is tested on the usual days. */
  schedule: TestSchedule | null;
  known: KnownSystem;
  watch: SystemWatch;
  correction: Correction | null;
  /** What people wrote under alerts. */
  said: Action[];
  /** When a deed was last done for an alert, by both. */
  done: Map<string, number>;
  /** Something was entered since the rules last judged. */
  fresh: boolean;
}

/** So long the same alert leads to no second go at the same deed, unless it is to be acted on now. */
const againDays = 3;
/** What was checked so lately is not checked again for another alert, unless it is to be acted on now. */
const checkedLately = 2;
/** What was found in order so lately is not looked at again, unless it is to be acted on now (own assumption). */
const inOrderLately = 7;
/** The rules begin to judge so many days before losses count, so that alerts of the first day are not all new. */
const judgesBefore = 10;
/** Alerts are told half an hour into a visit, and what is done about them a quarter of an hour later, as parts of a day. */
const [told, afterTold] = [1 / 48, 1 / 32];
/** Repeats that a page asks for at once are made by so many. */
const repeats = 0.85;

/** What is tested where all of the water is asked for. */
const waterCodes = ['alkalinity', 'salinity', 'temperature', 'nitrate'] as const;

/** The watch's alerts, read in the digest's order, and their steps done one by one by the same hands. */
class Service implements Policy {
  readonly told: Policy['told'] = { alerts: 0, wrong: 0, byRule: new Map() };
  readonly #hands: Hands;
  readonly #from: number;
  readonly #kept: Kept[];

  constructor(hands: Hands, from: number, { without = [], tests: plan = 'usual' }: ServiceOptions) {
    this.#hands = hands;
    this.#from = from;
    this.#kept = hands.farm.systems.map((system) => ({
      ...{ system, schedule: plan === 'proposed' ? new TestSchedule() : null },
      ...{ known: new KnownSystem(system, hands.bookOf(system)), watch: new SystemWatch(without) },
      ...{ correction: null, said: [], done: new Map(), fresh: true },
    }));
  }

  morning(): void {
    const { farm } = this.#hands;
    for (const one of this.#kept) {
      one.known.post(farm.day);
      for (const entry of this.#due(one)) this.#enter(one, entry);
      if (farm.day % 7 === lookDay) this.#look(one);
      this.#judge(one);
    }
    if (farm.day < this.#from) return;
    this.#workThrough();
    this.#hands.reason = 'going on';
    for (const one of this.#kept) this.#goOn(one);
    this.#hands.reason = 'routine';
  }

  evening(): void {
    if (this.#hands.farm.day < this.#from) return;
    for (const one of this.#kept) {
      const dear = one.watch.told().some(({ severity }) => severity === 'now');
      if (!dear) continue;
      for (const code of ['temperature', 'salinity'] as const)
        if (one.watch.told().some(({ facet, severity }) => severity === 'now' && facet === code))
          this.#test(one, code, true);
      this.#judge(one);
    }
    this.#workThrough(['now']);
  }

  /** While somebody is there, what is switched off calls when it is late. */
  hourly(): void {
    const { farm } = this.#hands;
    if (farm.day < this.#from) return;
    for (const one of this.#kept) {
      const late = this.#hands
        .bookOf(one.system)
        .off.some(({ backAt, dueAt }) => backAt === null && dueAt < timeOf(farm));
      if (!late) continue;
      one.fresh = true;
      this.#judge(one);
      this.#workThrough(['now', 'today'], ({ rule }) => rule === 'still-off');
    }
  }

  #due({ system, schedule, known }: Kept): Entry[] {
    const { day } = this.#hands.farm;
    if (schedule === null || day < this.#from) return tests(this.#hands, system);
    schedule.take(() => known.at(day), day);
    known.testsEvery = (code) => schedule.everyDays(code);
    const book = this.#hands.bookOf(system);
    return tests(this.#hands, system, (code) => schedule.isDue(book, code, day));
  }

  #enter(one: Kept, entry: Entry): void {
    const { temperature } = bands;
    one.fresh ||=
      entry.code !== 'temperature' || entry.value < temperature[0] || entry.value > temperature[1];
    if (!one.known.readings.enter(entry)) return;
    one.fresh = true;
    const { farm } = this.#hands;
    if (!farm.chance.happens(repeats, 'repeats', one.system.index, entry.code, farm.day)) return;
    const before = this.#hands.reason;
    this.#hands.reason = 'repeats';
    const again = this.#hands.test(one.system, entry.code, true);
    this.#hands.reason = before;
    if (again !== null) one.known.readings.enter({ ...again, at: again.at + 1 / 288 });
  }

  #test(one: Kept, code: Code, urgent: boolean): void {
    const entry = this.#hands.test(one.system, code, urgent);
    if (entry === null) return;
    const last = one.known.readings.facts.get(code)?.length ?? 0;
    this.#enter(one, { ...entry, at: entry.at + (last % 7) / 1000 + 1 / 144 });
  }

  #look(one: Kept): void {
    this.#hands.look(one.system);
    this.#hands.bringBack(one.system);
    one.fresh = true;
  }

  /** At the lots that an alert is about; at all of them where it names none. */
  #lookAt(one: Kept, alert: Alert): void {
    const only = [...new Set([...lotsOf(one.system, alert), ...lotsNamed(one.system, alert)])];
    this.#hands.look(one.system, only.length === 0 ? {} : { only });
    one.fresh = true;
  }

  #judge(one: Kept): void {
    const { farm } = this.#hands;
    const day = farm.day;
    const dear = one.watch.open.some(({ severity }) => severity === 'now');
    if (day < this.#from - judgesBefore || (!one.fresh && !dear && day % 3 !== 0)) return;
    const now = timeOf(farm) + told;
    const facts = one.known.at(now);
    const actions = [...actionsOf(one.system, this.#hands.bookOf(one.system), one.known), ...one.said]
      .filter(({ at }) => at > onDay(now - 90))
      .sort((a, b) => a.at.getTime() - b.at.getTime());
    one.fresh = false;
    for (const alert of one.watch.evaluate(facts, actions, onDay(now)))
      if (day >= this.#from) this.#tell(one, alert);
  }

  #tell(one: Kept, alert: Alert): void {
    const isTrue = isTrueAlert(this.#hands.farm, one.system, alert);
    this.told.alerts += 1;
    if (!isTrue) this.told.wrong += 1;
    const count = this.told.byRule.get(alert.rule) ?? { alerts: 0, wrong: 0 };
    this.told.byRule.set(alert.rule, { alerts: count.alerts + 1, wrong: count.wrong + Number(!isTrue) });
    this.#hands.farm.said(
      `the service, ${alert.severity}${isTrue ? '' : ' (false)'}: ${alert.title}. ${alert.finding.numbers}`,
    );
  }

  /** First things first: over all systems by urgency, then by age, until the day's time is used up. */
  #workThrough(
    urgencies: readonly string[] = ['now', 'today', 'watch'],
    only: (alert: Alert) => boolean = () => true,
  ): void {
    const rank = (alert: Alert) => urgencies.indexOf(alert.severity);
    const all = this.#kept
      .flatMap((one) => one.watch.told().map((alert) => ({ one, alert })))
      .filter(({ alert }) => rank(alert) >= 0 && only(alert))
      .sort(
        (a, b) => rank(a.alert) - rank(b.alert) || a.alert.openedAt.getTime() - b.alert.openedAt.getTime(),
      );
    for (const { one, alert } of all)
      if (
        this.#hands.follows(
          alert.severity,
          one.system.index,
          alert.rule,
          alert.subject.id,
          alert.facet,
          this.#hands.farm.hour,
        )
      ) {
        this.#hands.reason = alert.rule;
        this.#hands.into = afterTold;
        this.#follow(one, alert);
      }
    this.#hands.into = 0;
    this.#hands.reason = 'routine';
  }

  #follow(one: Kept, alert: Alert): void {
    const { answer, advice } = alert.finding;
    if (answer !== null && answer.confirmedAt === null && advice.length === 0) {
      if (answer.overdue) this.#confirm(one, alert);
      return;
    }
    const steps = advice.filter(({ waits }) => waits !== true);
    let did = false;
    const seen = new Set<string>();
    for (const deed of steps.flatMap(deedsOf)) {
      const key = `${keyOf(alert)} ${JSON.stringify(deed)}`;
      const last = one.done.get(key) ?? Number.NEGATIVE_INFINITY;
      const again = alert.severity === 'now' ? 0.4 : againDays;
      if (seen.has(key) || timeOf(this.#hands.farm) - last < again) continue;
      seen.add(key);
      one.done.set(key, timeOf(this.#hands.farm));
      did = this.#do(one, alert, deed) || did;
    }
    if (!did) return;
    one.fresh = true;
    one.said.push({
      ...{
        kind: 'said',
        at: onDay(timeOf(this.#hands.farm) + 1 / 24),
        who: 'the bench hand',
        subjectId: alert.id,
      },
      ...{ quantityCode: null, name: 'did these steps', amount: null, before: null, contents: null },
    });
  }

  /** Does what the words say is missing: a look, a light survey, checks of a kit, a test. */
  #confirm(one: Kept, alert: Alert): void {
    const missing = alert.finding.answer?.confirm ?? '';
    const code = codeOf(alert);
    if (missing.startsWith('a light survey')) this.#hands.check(one.system, 'lamps');
    else if (missing.includes('a standard'))
      this.#hands.checkKit(one.system, false, missing.startsWith('3 ') ? 3 : 2);
    else if (missing.startsWith('a look') || alert.subject.type === 'lot' || code === null)
      this.#lookAt(one, alert);
    else this.#test(one, code, false);
    one.fresh = true;
  }

  /** Does one deed; false where it did nothing that is worth a word. */
  #do(one: Kept, alert: Alert, deed: Deed): boolean {
    const hands = this.#hands;
    const { system } = one;
    const urgent = alert.severity === 'now';
    switch (deed.do) {
      case 'check': {
        if (this.#wasChecked(system, deed.thing, urgent)) return false;
        return hands.check(system, deed.thing, urgent) !== null;
      }
      case 'test': {
        const code = deed.code === 'same' ? codeOf(alert) : deed.code;
        if (code === null) return false;
        const codes = code === 'all' ? waterCodes : [code];
        // What is asked to be known is known where it was tested today; only a repeat is a second test.
        for (const each of codes)
          if (deed.code === 'same' || !this.#testedToday(system, each)) this.#test(one, each, urgent);
        return true;
      }
      case 'check kit':
        if (this.#wasChecked(system, 'kit', urgent)) return false;
        hands.checkKit(system, urgent);
        return true;
      case 'new kit':
        hands.openKit(system);
        return true;
      case 'note container':
        return hands.noteContainer();
      case 'look':
        this.#lookAt(one, alert);
        return true;
      case 'hold dose':
        return hands.hold(system, true, urgent);
      case 'set dose':
        return this.#setDose(one, deed.way);
      case 'raise alkalinity':
        return this.#plan(one);
      default:
        return this.#doToStock(one, alert, deed.do, urgent);
    }
  }

  #testedToday(system: System, code: Code): boolean {
    return (lastOf(this.#hands.bookOf(system), code)?.at ?? -1) >= this.#hands.farm.day;
  }

  #wasChecked(system: System, thing: string, urgent: boolean): boolean {
    const last = this.#hands.bookOf(system).checked.findLast((one) => one.thing === thing);
    const opened = this.#hands.bookOf(system).bottles.at(-1)?.at ?? 0;
    if (last === undefined || (thing === 'kit' && opened > last.at)) return false;
    const lately = urgent ? 0.3 : last.found ? checkedLately : inOrderLately;
    return timeOf(this.#hands.farm) - last.at < lately;
  }

  #doToStock(
    one: Kept,
    alert: Alert,
    deed: Exclude<Deed, { do: 'check' | 'test' }>['do'],
    urgent: boolean,
  ): boolean {
    const hands = this.#hands;
    const { system } = one;
    const lots = lotsOf(system, alert);
    switch (deed) {
      case 'move salinity': {
        const last = lastOf(hands.bookOf(system), 'salinity');
        return last !== undefined && hands.salt(system, Math.max(-1, Math.min(1, 35 - last.value)), urgent);
      }
      case 'change water':
        // What is planned as changes that come again is no change beside them.
        return alert.finding.changes === null && hands.change(system, 0.2, { once: true, urgent });
      case 'plan changes': {
        const plan = alert.finding.changes;
        const part = plan === null ? null : Math.min(0.35, (plan.fraction * 7) / plan.everyDays);
        system.changePart = Math.max(system.changePart ?? weeklyChange, part ?? 0.2);
        return true;
      }
      case 'skim':
        hands.skim(system);
        return true;
      case 'feed less':
        hands.feed(system, 0.8);
        return true;
      case 'air':
        hands.air(system);
        return true;
      case 'move lots':
        return lots.filter((lot) => hands.move(system, lot)).length > 0;
      case 'dim lamps':
        return this.#dim(one, alert);
      case 'set apart':
        return lots.filter((lot) => hands.isolate(system, lot)).length > 0;
      default:
        return false;
    }
  }

  /** Lamps that stand too high are turned to what they stood at. */
  #dim({ system }: Kept, { subject }: Alert): boolean {
    const rack = system.racks.findIndex(
      (one, r) => subject.id === one.id || subject.id === this.#kept[system.index]?.known.lampId(r),
    );
    if (rack < 0 || this.#wasChecked(system, 'lamps', false)) return false;
    return this.#hands.check(system, 'lamps') !== null;
  }

  #plan(one: Kept): boolean {
    if (one.correction !== null) return false;
    const now = timeOf(this.#hands.farm);
    one.correction = planUp(one.known.at(now + told), now);
    if (one.correction !== null) one.known.corrections.push(one.correction);
    return one.correction !== null;
  }

  #end(one: Kept): void {
    if (one.correction !== null) one.correction.endedDay = timeOf(this.#hands.farm);
    one.correction = null;
    one.fresh = true;
  }

  /** To what the stock uses by the page of demand, where that is the way that the words say. */
  #setDose(one: Kept, way: 'up' | 'down'): boolean {
    const use = neededByDemand(one.known.at(timeOf(this.#hands.farm) + told), timeOf(this.#hands.farm));
    const { doseSet } = one.system;
    if (use === null || Math.abs(use - doseSet) < 0.05 * doseSet || use > doseSet !== (way === 'up'))
      return false;
    return this.#hands.setDose(one.system, Math.min(1.4 * doseSet, Math.max(0.5 * doseSet, use)));
  }

  /** A correction's next step, a held doser that may run again, water changes that are as usual again. */
  #goOn(one: Kept): void {
    const hands = this.#hands;
    const { system, correction } = one;
    const last = lastOf(hands.bookOf(system), 'alkalinity');
    if (system.doseHeld && last !== undefined && last.value < 8.9 * dkh) hands.hold(system, false);
    if (system.changePart !== null && !one.watch.open.some(({ rule }) => rule.startsWith('nitrate')))
      system.changePart = null;
    if (correction === null) return;
    const step = correction.steps[correction.done];
    if (step === undefined) {
      if (!this.#testedToday(system, 'alkalinity')) this.#test(one, 'alkalinity', false);
      this.#end(one);
      return;
    }
    if (hands.farm.day < Math.floor(correction.fromDay) + step.day) return;
    if (step.retest && !this.#testedToday(system, 'alkalinity')) this.#test(one, 'alkalinity', false);
    const read = lastOf(hands.bookOf(system), 'alkalinity')?.value ?? 0;
    const before = correction.steps[correction.done - 1]?.after;
    // A test that departs from the plan holds the step: it is planned anew from there.
    if (step.retest && before !== undefined && Math.abs(read - before.value) > 2 * before.u + 0.35 * dkh)
      this.#end(one);
    else if (hands.dose(system, step.change)) {
      correction.done += 1;
      correction.doneDays.push(timeOf(hands.farm));
    }
  }
}

/** The lots that an alert is about. */
const lotsOf = ({ lots }: System, { subject, finding }: Alert) =>
  lots.filter(({ id }) => id === subject.id || finding.lots.includes(id));

/** Lots that its steps call by name beside those that it is about. */
function lotsNamed({ lots }: System, { finding: { advice } }: Alert) {
  const said = advice.filter(({ waits }) => waits !== true).flatMap(({ text }) => text.split(/[ ,:]+/));
  return lots.filter(({ name }) => said.includes(name));
}

/** Which quantity an alert is about; null where it is about none. */
function codeOf({ rule, facet, title }: Alert): Code | null {
  const codes: readonly string[] = [
    'alkalinity',
    'calcium',
    'nitrate',
    'phosphate',
    'salinity',
    'temperature',
    'ph',
  ];
  if (codes.includes(facet)) return facet as Code;
  if (/alkalinity|demand|overdose|precipitation|saturation|kit/.test(rule)) return 'alkalinity';
  if (rule.startsWith('nitrate')) return 'nitrate';
  if (rule === 'overdue')
    return (codes.find((code) => title.toLowerCase().includes(`${code} test`)) as Code | undefined) ?? null;
  return rule === 'heat-stress' ? 'temperature' : null;
}
