import type { Alert } from '../../alerts/alerts.ts';
import type { Service } from '../../platform/service.ts';
import { calledBy } from '../../stock/base/codes.ts';
import { isCorrectable } from '../../water/dosing/substances.rules.ts';
import { unitName } from '../../water/quantities/quantities.ts';
import { entryFormRows } from '../../water/readings/entry-form.ts';
import { doserFindings } from '../answers/doser-findings.rules.ts';
import { quantityOfAlert } from '../pictures/quantity.rules.ts';
import { type Doing, doingsOf } from './actions.rules.ts';
import { kitOffer } from './kit.ts';
import { lampsOffer } from './lamps.ts';
import { routineOffer } from './routine.ts';
import { type AlertThings, type Looking, thingsOf } from './things.ts';
import { troubleHref } from './trouble.rules.ts';

/** One thing that can be done: a form that is filled in, or a button that leads where it is done. */
export type Offer =
  | { doing: 'link'; text: string; href: string; others: { text: string; href: string }[] }
  | { doing: 'photo'; text: string; action: string; back: string; others: { text: string; href: string }[] }
  | {
      doing: 'doser';
      quantity: string;
      findings: readonly { value: string; text: string }[];
      again: readonly { value: string; text: string }[];
    }
  | { doing: 'running'; action: string; what: string }
  | { doing: 'mended'; action: string; what: string }
  | { doing: 'checked'; action: string; what: string; faults: string }
  | { doing: 'looked'; what: string }
  | TestOffer
  | NonNullable<Awaited<ReturnType<typeof lampsOffer>>>
  | NonNullable<Awaited<ReturnType<typeof kitOffer>>>
  | NonNullable<Awaited<ReturnType<typeof routineOffer>>>;

/** A test of one quantity with what was used for it last. */
export interface TestOffer {
  doing: 'test';
  code: string;
  name: string;
  unit: string;
  /** The unit as people write it: "°C". */
  unitText: string;
  how: string;
  /** What it is tested with: "photometer, Set 3". */
  instrument: string;
  last: string;
}

/** Whether what was found is put right. */
const runsAgain = [
  { value: 'yes', text: 'Yes' },
  { value: 'no', text: 'Not yet' },
];

/** What an alert offers to do, the best first. Nothing is offered that the person may not do. */
export async function offersOf(service: Service, alert: Alert, looking: Looking): Promise<Offer[]> {
  const { finding, rule, facet, subjectType, subjectId } = alert;
  const { changes, advice } = finding;
  const doings = doingsOf({ rule, facet, changes, advice, subject: { type: subjectType } });
  const things = await thingsOf(service.pool, alert);
  const offers: Offer[] = [];
  for (const doing of doings) {
    const offer = await offerOf(service, { alert, things, looking, subjectId }, doing);
    if (offer !== null) offers.push(offer);
  }
  return offers;
}

interface Asked {
  alert: Alert;
  things: AlertThings;
  looking: Looking;
  subjectId: string;
}

async function offerOf(service: Service, asked: Asked, doing: Doing): Promise<Offer | null> {
  const { alert, things, looking } = asked;
  switch (doing) {
    case 'lamps':
      return lampsOffer(service, alert, looking);
    case 'kit':
      return kitOffer(service, alert, things.quantityCode ?? quantityOfAlert(alert));
    case 'routine':
      return routineOffer(service, alert, looking);
    case 'test':
      return testOffer(service, asked);
    case 'doser':
      return { doing, quantity: quantityOfAlert(alert) ?? '', findings: doserFindings, again: runsAgain };
    case 'photo':
      return photoOffer(asked);
    case 'running':
    case 'mended':
      return evidenceOffer(alert, doing);
    case 'checked': {
      const offer = evidenceOffer(alert, 'mended');
      return offer && { ...offer, doing, faults: `/farm/systems/${alert.systemId}/faults` };
    }
    case 'looked':
      return { doing, what: alert.finding.found?.title ?? alert.title };
    default:
      return linkOf(doing, asked);
  }
}

async function testOffer(service: Service, { alert, things, looking }: Asked): Promise<TestOffer | null> {
  const code =
    things.quantityCode ?? quantityOfAlert(alert) ?? (alert.rule === 'still-off' ? 'ammonia' : null);
  if (code === null) return null;
  const rows = await entryFormRows(service, { systemId: alert.systemId, ...looking });
  const row = rows.find((one) => one.code === code);
  if (row === undefined) return null;
  // The kit in doubt is not the one to test with.
  const hows = row.hows.filter(({ value }) => !value.endsWith(`/${alert.subjectId}`));
  const how = hows.find(({ value }) => value === row.how) ?? hows[0];
  return {
    doing: 'test',
    code,
    name: row.name,
    unit: row.unit,
    unitText: unitName(code, row.unit),
    how: how?.value ?? '',
    instrument: how?.text ?? '',
    last: row.last,
  };
}

function photoOffer({ alert, things }: Asked): Offer | null {
  const [first, ...others] = things.lots;
  if (first === undefined) return null;
  const back = `/watch/${alert.id}`;
  return {
    doing: 'photo',
    text: calledBy(first),
    action: `/stock/${first.code}/photo`,
    back,
    others: others.map((lot) => ({ text: calledBy(lot), href: `/stock/${lot.code}/photo?back=${back}` })),
  };
}

/** What is off or broken stands in the finding's evidence. */
function evidenceOffer<Kind extends 'running' | 'mended'>(
  { finding, id }: Alert,
  doing: Kind,
): { doing: Kind; action: string; what: string } | null {
  const kind = doing === 'running' ? 'switched off' : 'fault';
  const one = finding.evidence.find((evidence) => evidence.kind === kind);
  if (one === undefined) return null;
  const action =
    doing === 'running' ? `/farm/switched-off/${one.id}/running` : `/farm/faults/${one.id}/mended`;
  return { doing, action: `${action}?back=/watch/${id}`, what: one.text };
}

type LinkDoing = Exclude<
  Doing,
  'lamps' | 'kit' | 'routine' | 'test' | 'doser' | 'photo' | 'running' | 'mended' | 'checked' | 'looked'
>;

/** Where each is done, with what the alert is about filled in; null where the alert names no such thing. */
function linkOf(doing: LinkDoing, { alert, things, looking }: Asked): Offer | null {
  const { systemId, finding } = alert;
  const system = `/water/systems/${systemId}`;
  const [lot, ...otherLots] = things.lots;
  const [rack] = things.racks;
  const link = (
    text: string,
    href: string | null | undefined,
    others: { text: string; href: string }[] = [],
  ): Offer | null => (href == null || href === '' ? null : { doing: 'link', text, href, others });
  const of = <T>(one: T | null | undefined, address: (known: T) => string) =>
    one == null ? null : address(one);
  switch (doing) {
    case 'affected':
      return link('See what affected lots share', '/affected');
    case 'look':
      return link(
        `Record how ${lot === undefined ? '' : calledBy(lot)} looks`,
        of(lot, ({ code }) => `/stock/${code}/condition?back=/watch/${alert.id}`),
      );
    case 'photograph rack':
      return link(
        `Photograph ${rack?.name ?? ''} again`,
        of(rack, ({ id }) => `/racks/${id}/photographs`),
      );
    case 'losses':
      return link('See the losses and their causes', '/stock/losses');
    case 'pest watch':
      return link('Look, treat and see what shares the water', `/stock/pests/${alert.facet}`);
    case 'correct': {
      const code = quantityOfAlert(alert);
      return code !== null && isCorrectable(code) && looking.role !== 'hand'
        ? link('Plan a correction', `${system}/corrections/new?quantity=${code}`)
        : null;
    }
    case 'change water':
      return link('Log a water change', `${system}/water-changes`);
    case 'doses':
      return link('See the doses', `${system}/doses`);
    case 'demand':
      return link('See what the stock uses', `${system}/demand`);
    case 'nutrients':
      return link('Plan nitrate and phosphate', `${system}/nutrients`);
    case 'switch off':
      return link(
        'Switch something off for now',
        `/farm/switched-off/new?system=${systemId}&back=/watch/${alert.id}`,
      );
    case 'emergency':
      return link(
        'Report trouble: the steps in order',
        troubleHref({ ...alert.finding, rule: alert.rule, facet: alert.facet }, systemId),
      );
    case 'move':
      return link(
        `Find ${lot === undefined ? '' : calledBy(lot)} another place`,
        of(lot, ({ code }) => `/racks/move?lot=${code}`),
      );
    case 'apart': {
      const apart = ({ code }: { code: string }) => `/racks/move?lot=${code}&apart=yes`;
      return link(
        `Find ${lot === undefined ? '' : calledBy(lot)} a place in other water`,
        of(lot, apart),
        otherLots.map((one) => ({ text: calledBy(one), href: apart(one) })),
      );
    }
    case 'light steps':
      return lot === undefined
        ? link(
            'Plan the light in steps',
            of(things.lampId, (id) => `/stock/acclimations/new?lamp=${id}${percentOf(alert)}`),
          )
        : link('Plan its light in steps', `/stock/acclimations/new?lot=${lot.code}`);
    case 'measure light':
      return link(
        `Measure the light of ${rack?.name ?? ''}`,
        of(rack, ({ id }) => `/racks/${id}/surveys/new`),
      );
    case 'flow':
      return link(
        `Note the flow on ${rack?.name ?? ''}`,
        of(rack, ({ id }) => `/racks/${id}/flow`),
      );
    case 'settings':
      return link(
        'Turn the lamps',
        of(things.lampId, (id) => `/lamps/${id}/settings`),
      );
    case 'kit page':
      return link(
        'The kit and its checks',
        alert.subjectType === 'kit' ? `/water/kits/${alert.subjectId}` : null,
      );
    case 'work':
      return link('Do what is due', finding.href);
  }
}

/** Lamps that were turned down go back to what they were set to before. */
function percentOf({ finding }: Alert): string {
  const before = /^(\d+(?:\.\d+)?) % to /.exec(finding.numbers)?.[1];
  return before === undefined ? '' : `&percent=${before}&show=yes`;
}
