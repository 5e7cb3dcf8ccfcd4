import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type pg from 'pg';
import { watchGapsNow } from '../../alerts/gaps/gaps.ts';
import { stepsOf } from '../../alerts/steps.ts';
import { backupWordsNow } from '../../backups/backups.ts';
import { listOff, placeOf } from '../../farm/switched-off/lists.ts';
import { things } from '../../farm/switched-off/things.rules.ts';
import { localDay } from '../../platform/days.ts';
import type { Service } from '../../platform/service.ts';
import { isManager, may } from '../../platform/web/access.ts';
import { showPage } from '../../platform/web/pages.ts';
import { publicAddress } from '../../platform/web/public-address.ts';
import { plural } from '../../platform/words/numbers.ts';
import { roomView } from '../../racks/overview/room-view.ts';
import { lotsToAsk } from '../../stock/places/emptied-slots.ts';
import { stocktakeNews } from '../../stock/stocktakes/due.ts';
import { buttonOf } from '../../watch/actions/actions.rules.ts';
import { headingOf } from '../../watch/rules/registry.ts';
import { firstSteps } from '../../watch/unknowns/unknowns.ts';
import { putOffWords, untestedWords } from '../../water/systems/state.rules.ts';
import { systemStates } from '../../water/systems/state.ts';
import { itemName } from '../missing/item-names.ts';
import { missingAt } from '../missing/missing.ts';
import { roundRow } from '../schedule/schedule.pages.ts';
import { missedOf, ofToday, openFirst, type PlannedRound, plannedRounds } from '../schedule/schedule.ts';
import { type UrgentAlert, type UrgentAlerts, urgentAlerts } from './urgent-alerts.ts';

/** The local day of a site's newest digest, "2026-11-24"; null while there is none. */
export type NewestDigestDay = (pool: pg.Pool, siteId: string) => Promise<string | null>;

/** Rooms that the first page draws; the racks' page has them all. */
const ROOMS_SHOWN = 6;
/** Alerts to act on now, and systems that nobody tested, that the first page lists; their own pages have them all (own choice). */
const ACUTE_SHOWN = 12;
const UNTESTED_SHOWN = 8;

/** The first page: what is to be done now, and the farm as it is. */
export function todayPages(app: FastifyInstance, service: Service, newestDigestDay: NewestDigestDay): void {
  app.get('/', (request, reply) => showToday(service, newestDigestDay, request, reply));
}

async function showToday(
  service: Service,
  newestDigestDay: NewestDigestDay,
  request: FastifyRequest,
  reply: FastifyReply,
) {
  const { id: siteId, timeZone } = request.site;
  const [now, { pool }] = [service.now(), service];
  const [planned, off, alerts, digestDay, list, states, backup, room, counting, toAsk, gaps] =
    await Promise.all([
      plannedRounds(pool, siteId, now),
      listOff(pool, siteId),
      urgentAlerts(pool, siteId, now, ACUTE_SHOWN),
      newestDigestDay(pool, siteId),
      missingList(service, request),
      systemStates(pool, { siteId }, now),
      backupWordsNow(service, { timeZone, now }),
      roomView(service, { siteId, show: 'light', page: 1, perPage: ROOMS_SHOWN }),
      stocktakeNews(pool, request.site, now),
      lotsToAsk(pool, siteId),
      watchGapsNow(pool, request.site, headingOf, now),
    ]);
  const rounds = ofToday(planned);
  const open = rounds.filter((round) => round.state !== 'finished' && round.state !== 'missed');
  const clock = { timeZone, now };
  const putOff = states.flatMap((state) => state.putOff).sort((a, b) => a.getTime() - b.getTime());
  const untested = states
    .map((state) => ({
      id: state.id,
      name: state.name,
      words: untestedWords(state, clock),
      read: state.read === true,
    }))
    .filter(({ words }) => words !== '');
  const data = {
    today: localDay(now, timeZone),
    ...roundLists(rounds, request.person.id),
    room: room.sections,
    hasMoreRooms: room.count > room.sections.length,
    missed: missedOf(planned).length,
    off: off.map((one) => ({
      ...one,
      place: placeOf(one),
      state: things[one.thing].state,
      late: now >= one.dueAt,
      dueIso: one.dueAt.toISOString(),
    })),
    acute: alerts.acute.map(acuteRow),
    further: furtherWords(alerts),
    digestDay,
    digestIsToday: digestDay === localDay(now, timeZone),
    ...list,
    backup,
    counting,
    toAsk: toAsk.length,
    putOff: putOffWords(putOff, clock),
    untested: untested.slice(0, UNTESTED_SHOWN),
    moreUntested: Math.max(0, untested.length - UNTESTED_SHOWN),
    gaps,
    quiet:
      gaps.length === 0 &&
      putOff.length === 0 &&
      counting === null &&
      toAsk.length === 0 &&
      untested.length === 0 &&
      !list.begins &&
      open.length === 0 &&
      off.length === 0 &&
      alerts.now + alerts.today + alerts.watch === 0,
  };
  return showPage(service, request, reply, 'rounds/today', data, { title: 'Today', area: 'today' });
}

/** Rounds that stand in view on the first page; the others are folded (own choice). */
const ROUNDS_SHOWN = 2;

/** Today's rounds: those not walked first. */
function roundLists(rounds: readonly PlannedRound[], personId: string) {
  const rows = openFirst(rounds).map((round) => ({
    ...roundRow(round),
    mine: round.assigneeId === personId,
  }));
  return { rounds: rows.slice(0, ROUNDS_SHOWN), laterRounds: rows.slice(ROUNDS_SHOWN) };
}

/** An alert to act on now, with the first thing to do. */
function acuteRow({ finding, ...alert }: UrgentAlert) {
  const { rule, facet, subjectType } = alert;
  const { numbers = '', said = [], changes = null, advice, limit } = finding;
  return {
    ...alert,
    ...{ numbers, said },
    steps: stepsOf(finding),
    more:
      alert.explains === 0
        ? ''
        : `${plural(alert.explains, 'other alert comes', 'other alerts come')} from this`,
    button: buttonOf({
      rule,
      facet,
      changes,
      advice: advice ?? [],
      subject: { type: subjectType },
      ...(limit ? { limit } : {}),
    }),
  };
}

/** "2 more to act on now, 3 alerts for today, 2 only watched"; '' for none. */
function furtherWords({ acute, now, today, watch }: UrgentAlerts): string {
  const more = now - acute.length;
  return [
    more <= 0 ? '' : `${more} more to act on now`,
    today === 0 ? '' : `${plural(today, 'alert', 'alerts')} for today`,
    watch === 0 ? '' : `${watch} only watched`,
  ]
    .filter((part) => part !== '')
    .join(', ');
}

/** More than these are folded, so that the day stays in sight (own choice). */
const mostInSight = 3;

/** What is missing, as far as whoever asks may say it; `begins` where nothing can be said of a day before it is done. */
async function missingList(service: Service, request: FastifyRequest) {
  const { role } = request.person;
  const { missing, aside } = await missingAt(service, request.site, {
    address: publicAddress(service.config, request),
    isSecure: request.protocol === 'https',
  });
  const mine = missing.filter(({ href }) => may(role, request.server.pageAccess(href) ?? 'anybody'));
  return {
    missing: mine,
    longMissing: mine.length > mostInSight,
    begins: missing.some(({ what }) => firstSteps.includes(what)),
    aside: isManager(role) ? aside.map((one) => ({ ...one, name: itemName(one.item) ?? one.item })) : [],
  };
}
