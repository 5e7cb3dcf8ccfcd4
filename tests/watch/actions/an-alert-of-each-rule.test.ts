import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Finding } from '../../../src/alerts/finding.ts';
import type { Prisma } from '../../../src/generated/prisma/client.ts';
import { evaluateSystems } from '../../../src/watch/evaluation/evaluate.ts';
import { rules } from '../../../src/watch/rules/registry.ts';
import { type Ground, layGround, lot, place, survey, turn } from '../../farm/ground.ts';
import { fieldsOf } from '../../support/forms.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../../support/service.ts';
import { foundIn, troubledWorld } from '../advice/worlds.ts';

// An alert of each rule stands open on one small system. Each link of its page leads somewhere, each form can be sent, and
// what was done is said with who did it and what confirms it.

let bench: Bench;
let manager: Visitor;
let ground: Ground;
const alerts = new Map<string, string>();
const subjects: Record<string, string> = {};

beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager', 'Ravi');
  ground = await layGround(bench);
  const { db } = bench.service;
  const lotId = await lot(bench, ground.siteId);
  await place(bench, lotId, [ground.slots.A1], '2026-06-01T10:00Z');
  await turn(bench, ground.lampId, '2026-05-01T00:00:00Z', 60);
  await survey(bench, ground, '2026-06-01T10:00:00Z', 60, 110);
  const { systemId } = ground;
  const method = await db.method.findFirstOrThrow({ where: { quantityCode: 'nitrate', name: 'photometer' } });
  const kit = await db.kit.create({
    data: { methodId: method.id, label: 'Set 3', openedAt: new Date('2026-10-01') },
  });
  const plain = { quantityCode: 'nitrate', methodId: method.id, kitId: kit.id, enteredText: '8' };
  await db.reading.create({
    data: {
      ...{ ...plain, systemId, at: new Date('2026-11-20T08:00Z'), value: 8, uncertainty: 1 },
      ...{ enteredUnit: 'mg/L', accountId: manager.id },
    },
  });
  const ids = {
    system: systemId,
    rack: ground.rackId,
    lamp: ground.lampId,
    tank: ground.tankId,
    kit: kit.id,
  };
  const look = await db.look.create({
    data: { systemId, key: 'look', title: 'Look again', href: '/', dueAt: benchNow, createdAt: benchNow },
  });
  const ended = { endedAt: benchNow, endedWhy: 'clean looks for long enough', endedById: manager.id };
  const pest = await db.pestWatch.create({
    data: { systemId, pest: 'unnamed', openedAt: new Date('2026-10-01T08:00Z'), ...ended },
  });
  Object.assign(subjects, { ...ids, lot: lotId, look: look.id, pest: pest.id });
  const equipment = await db.equipment.create({ data: { systemId, kind: 'return_pump', name: 'Return' } });
  const fault = await db.fault.create({
    data: { systemId, equipmentId: equipment.id, notedAt: benchNow, seen: 'fallen', accountId: manager.id },
  });
  bench.at('2026-11-24T07:00:00Z');
  const off = await manager.post('/farm/switched-off', {
    ...{ systemId, pick: `equipment:${equipment.id}`, why: 'Bearing', minutes: '480' },
  });
  expect(off.status, off.body).toBe(303);
  const { id: offId } = await db.switchedOff.findFirstOrThrow();
  bench.at(benchNow);
  // The day has been looked at already, so that nothing looks at it by itself while the alerts stand here.
  await evaluateSystems(bench.service, [systemId], benchNow);
  await db.alert.updateMany({ data: { clearedAt: benchNow, clearedReason: 'it is over' } });
  for (let seed = 1; alerts.size < rules.length && seed < 400; seed += 1)
    for (const finding of foundIn(troubledWorld(seed)))
      if (!alerts.has(finding.rule)) alerts.set(finding.rule, await open(finding, fault.id, offId));
});
afterAll(() => bench.close());

/** Opens an alert as the watch would, about the things of this bench. */
async function open(finding: Finding, faultId: string, offId: string): Promise<string> {
  const { systemId } = ground;
  const subject = { ...finding.subject, id: subjects[finding.subject.type] ?? systemId };
  const real: Record<string, string> = { fault: faultId, 'switched off': offId };
  const evidence = finding.evidence.map((one) => ({ ...one, id: real[one.kind] ?? one.id }));
  const lots = finding.lots.length === 0 ? [] : [subjects.lot ?? ''];
  const reported = { severity: finding.severity, score: finding.score };
  const href = `/water/systems/${systemId}`;
  const kept = { ...finding, subject, systemId, evidence, lots, href, reported };
  const facets: Record<string, string | undefined> = {
    'look-overdue': subjects.look,
    'pest-in-water': subjects.pest,
  };
  const facet = facets[finding.rule] ?? finding.facet;
  const { id } = await bench.service.db.alert.create({
    data: {
      ...{ rule: finding.rule, subjectType: subject.type, subjectId: subject.id, facet },
      ...{ systemId, severity: finding.severity, title: finding.title, worst: finding.score },
      finding: kept as unknown as Prisma.InputJsonValue,
      openedAt: new Date('2026-11-24T06:00Z'),
      evaluatedAt: benchNow,
    },
  });
  return id;
}

const text = (body: string) =>
  body
    .replace(/<[^>]*>/g, ' ')
    .replace(/\s+/g, ' ')
    .replace(/ ([.:,])/g, '$1');
const actionPart = (body: string) => /<section class="alert-doing"[\s\S]*?<\/section>/.exec(body)?.[0] ?? '';

describe('an alert of each rule', () => {
  test('is open here', () => {
    expect([...alerts.keys()].sort()).toEqual(rules.map(({ name }) => name).sort());
  });

  test('has links that all lead somewhere', async () => {
    const failed: string[] = [];
    for (const [rule, id] of alerts) {
      const page = await manager.get(`/watch/${id}`);
      expect(page.status, rule).toBe(200);
      const hrefs = [...actionPart(page.body).matchAll(/href="([^"#]+)"/g)].map(([, href = '']) => href);
      for (const href of new Set(hrefs)) {
        const { status } = await manager.get(href.replaceAll('&amp;', '&'));
        if (status >= 400) failed.push(`${rule}: ${href} ${status}`);
      }
    }
    expect(failed).toEqual([]);
  });

  test('says what was done about it, by whom, and what confirms it and by when, or what ends it', async () => {
    const ending: string[] = [];
    const done = (rule: string) => `Done: Seen to by hand: ${rule} by Ravi, 24 Nov 08:00.`;
    for (const [rule, id] of alerts) {
      const sent = await manager.post(`/watch/${id}/act`, { what: `Seen to by hand: ${rule}` });
      expect(sent.status, rule).toBe(303);
      const page = text((await manager.get(`/watch/${id}`)).body);
      if (page.includes(`${done(rule)} The alert ends when `)) ending.push(rule);
    }
    expect(ending.sort()).toEqual(
      [
        ...['overdue', 'survey-old', 'still-off', 'equipment-fault', 'look-overdue', 'kit-missing'],
        ...['device-silent', 'lightening', 'rack-shift'],
      ].sort(),
    );
    bench.at('2026-11-24T08:30:00Z');
    await evaluateSystems(bench.service, [ground.systemId], new Date('2026-11-24T08:30:00Z'));
    const silent: string[] = [];
    for (const [rule, id] of alerts) {
      if (ending.includes(rule)) continue;
      const page = text((await manager.get(`/watch/${id}`)).body);
      const from = page.indexOf(done(rule));
      const answered = from >= 0 && /To confirm it: [^.]+, by \d+ Nov/.test(page.slice(from, from + 300));
      // What it rested on does not stand on this bench: it may be over at once, for a reason that is told.
      const isOver =
        /Cleared 24 Nov 08:30: \w/.test(page) && page.includes(`Acted on Seen to by hand: ${rule}`);
      if (!answered && !isOver) silent.push(`${rule}: ${page.slice(from, from + 300)}`);
    }
    expect(silent).toEqual([]);
  });

  test('has forms that can be sent as they are filled in: none ends where nothing exists, or in a refusal without a way on', async () => {
    const failed: string[] = [];
    let sent = 0;
    for (const [rule, id] of alerts) {
      await bench.service.db.alert.update({
        where: { id },
        data: { clearedAt: null, clearedReason: null, putOffUntil: null },
      });
      const { body } = await manager.get(`/watch/${id}`);
      const actions = [...actionPart(body).matchAll(/<form method="post" action="([^"]+)"([^>]*)>/g)];
      for (const [, action = '', more = ''] of actions) {
        if (more.includes('multipart')) continue;
        const now = (await manager.get(`/watch/${id}`)).body;
        if (!now.includes(`action="${action}"`)) continue;
        const fields = fieldsOf(now, action);
        const typed = {
          ...(action.endsWith('/test') ? { value: '8', sure: '1' } : {}),
          ...(action.includes('/faults/') ? { mended: 'fixed to the glass' } : {}),
          ...(action.endsWith('/act') ? { what: 'Something' } : {}),
          ...(action.endsWith('/postponement')
            ? { until: '2026-11-27', reason: 'Waits', watcher: 'Rui' }
            : {}),
          ...(action.endsWith('/doser') ? { found: 'well' } : {}),
        };
        const answer = await manager.post(action.replaceAll('&amp;', '&'), { ...fields, ...typed });
        sent += 1;
        const told = answer.status === 422 && /class="(?:field-error|error)/.test(answer.body);
        if (answer.status !== 303 && !told) failed.push(`${rule}: ${action} ${answer.status}`);
      }
    }
    expect(failed).toEqual([]);
    expect(sent).toBeGreaterThan(rules.length * 2);
  });
});
