import ICAL from 'ical.js';
import { afterEach, beforeAll, describe, expect, test } from 'vitest';
import { type Hall, planRound } from '../rounds/hall.ts';
import { type Bench, benchNow, type Visitor } from '../support/service.ts';

const addressIn = (page: string) =>
  /https:\/\/farm\.example\.org(\/calendar\/[\w-]{43}\.ics)/.exec(page)?.[1] ?? page;

/** The calendar of due work, read back by another library (RFC 5545). */
export function dueCalendar(given: () => { bench: Bench; hall: Hall }): void {
  describe('a calendar of due work', () => {
    let bench: Bench;
    let hall: Hall;
    let reader: Visitor;
    let address: string;
    beforeAll(async () => {
      ({ bench, hall } = given());
      const { db } = bench.service;
      await planRound(bench, hall, { name: 'Dawn; walk, of all' });
      const startsOn = new Date('2026-11-20');
      const routine = { systemId: hall.systemId, work: 'water_change', everyDays: 7, startsOn } as const;
      await db.routine.create({ data: { ...routine, detail: { volumeL: 180 } } });
      const hold = { lotId: hall.lots.A1.id, pieces: 1, buyer: 'Orla Finch', until: new Date('2026-11-26') };
      await db.hold.create({ data: hold });
      const came = { supplier: 'Salt & Stone', cameAt: new Date('2026-11-24T02:00:00Z'), claimHours: 12 };
      await db.delivery.create({ data: { siteId: hall.siteId, ...came } });
      reader = await bench.as('reader', 'Nils Aske');
      const made = await reader.post('/account/calendar', {});
      expect(made.status, made.body).toBe(200);
      address = addressIn(made.body);
      expect(made.body).toContain('<svg');
    });
    afterEach(() => bench.at(benchNow));

    const asked = async (headers: Record<string, string> = {}, url = address) => {
      const answer = await bench.app.inject({ url, headers });
      const events = () =>
        new ICAL.Component(ICAL.parse(answer.body))
          .getAllSubcomponents('vevent')
          .map((one) => new ICAL.Event(one));
      return { status: answer.statusCode, headers: answer.headers, body: answer.body, events };
    };
    const named = (events: ICAL.Event[], words: string) =>
      events.filter(({ summary }) => summary.includes(words));

    test('is read without signing in, and tells rounds, routines, holds and claims in their own kind of time', async () => {
      const feed = await asked();
      expect(feed.status, feed.body).toBe(200);
      expect(feed.headers['content-type']).toBe('text/calendar; charset=utf-8');
      const events = feed.events();
      const [hold] = named(events, 'Hold ends');
      expect(hold?.startDate.isDate).toBe(true);
      expect(hold?.startDate.toString()).toBe('2026-11-26');
      expect(hold?.summary).toContain('Orla Finch');
      const [claim] = named(events, 'Salt & Stone');
      expect(claim?.endDate.toJSDate().toISOString()).toBe('2026-11-24T14:00:00.000Z');
      const rounds = named(events, 'Dawn; walk, of all');
      expect(rounds.length).toBeGreaterThan(10);
      expect(rounds[0]?.startDate.isDate).toBe(false);
      const water = named(events, '180 L');
      expect(water.every(({ startDate }) => startDate.isDate)).toBe(true);
      expect(water.length).toBeGreaterThan(0);
      const uids = events.map(({ uid }) => uid);
      expect(new Set(uids).size).toBe(uids.length);
      for (const { component } of events) {
        expect(component.getFirstPropertyValue('dtstamp')).not.toBeNull();
        expect(String(component.getFirstPropertyValue('url'))).toMatch(/^https:\/\/farm\.example\.org\//);
      }
    });

    test('is the same until the work changes, by its ETag, and keeps the names of what stays', async () => {
      const before = await asked();
      const { etag } = before.headers as { etag: string };
      expect((await asked({ 'if-none-match': etag })).status).toBe(304);
      await bench.service.db.hold.updateMany({
        data: { releasedAt: benchNow, releaseReason: 'Sold elsewhere' },
      });
      const after = await asked({ 'if-none-match': etag });
      expect(after.status).toBe(200);
      const kept = new Set(before.events().map(({ uid }) => uid));
      expect(after.events().every(({ uid }) => kept.has(uid))).toBe(true);
      expect(named(after.events(), 'Hold ends')).toEqual([]);
    });

    // Lisbon goes an hour ahead on 28 March 2027 at 01:00 UTC (IANA time zone database).
    test('keeps the hour of the farm when its clocks change', async () => {
      bench.at('2027-03-26T12:00:00Z');
      const starts = named((await asked()).events(), 'Dawn; walk, of all').map(({ startDate }) =>
        startDate.toJSDate().toISOString(),
      );
      const of = (day: string) => starts.find((at) => at.startsWith(day))?.slice(11, 16);
      const [before, after] = [of('2027-03-27'), of('2027-03-28')] as [string, string];
      expect(Number(before.slice(0, 2)) - Number(after.slice(0, 2))).toBe(1);
      expect(after.slice(3)).toBe(before.slice(3));
    });

    test('opens nothing once another is made, it is ended, or its person may not come any more', async () => {
      const made = addressIn((await reader.post('/account/calendar', {})).body);
      expect((await asked({}, address)).status).toBe(404);
      expect((await asked({}, made)).status).toBe(200);
      expect((await asked({}, made.replace(/.\.ics$/, '_.ics'))).status).toBe(404);
      expect((await reader.get('/account/calendar')).body).not.toContain(made);
      await bench.service.db.account.update({ where: { id: reader.id }, data: { disabledAt: benchNow } });
      expect((await asked({}, made)).status).toBe(404);
      await bench.service.db.account.update({ where: { id: reader.id }, data: { disabledAt: null } });
      expect((await asked({}, made)).status).toBe(200);
      expect((await reader.post('/account/calendar/end', {})).status).toBe(303);
      expect((await asked({}, made)).status).toBe(404);
    });
  });
}
