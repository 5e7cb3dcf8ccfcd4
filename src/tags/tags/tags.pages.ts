import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { qrCode } from '../../platform/charts/qr.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { pageNumber } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { confirmReach, publicAddress } from '../../platform/web/public-address.ts';
import { pathId } from '../../platform/web/requests.ts';
import { plural } from '../../platform/words/numbers.ts';
import { existingCode } from '../../stock/lots/lots.ts';
import { newestPhoto } from '../../stock/lots/photos.ts';
import { gateNotice } from '../../stock/pests/gate.ts';
import { openHolds } from '../../stock/sales/holds.ts';
import { markOfLot } from '../mark/mark.ts';
import { loadTagFacts } from '../record/facts.ts';
import { composeRecord } from '../record/record.rules.ts';
import { labelFacts, nameWords, recordFacts } from '../record/record-words.ts';
import { waterChanges } from '../record/water-change.rules.ts';
import { foundSince } from './found-since.ts';
import { returnedUnder } from './returned.ts';
import { newTagSchema, withdrawalSchema } from './tags.schema.ts';
import { issueTag, listTags, readTag, withdrawTag } from './tags.ts';

/** Issuing, printing and withdrawing tags. */
export function tagPages(app: FastifyInstance, service: Service): void {
  app.get('/tags', (request, reply) => showTags(service, request, reply));
  app.get('/tags/new', (request, reply) => showNewTag(service, request, reply));
  app.post('/tags', takes(newTagSchema), (request, reply) => postTag(service, request, reply));
  app.get('/tags/:id', (request, reply) => showTag(service, request, reply));
  app.post('/tags/:id/withdrawal', takes(withdrawalSchema), (request, reply) =>
    postWithdrawal(service, request, reply),
  );
}

const pageLength = 50;

async function showTags(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const page = pageNumber(0).parse((request.query as { page?: unknown }).page);
  const tags = await listTags(service, request.site.id, {
    skip: page * pageLength,
    take: pageLength + 1,
  });
  const newer = page > 0 ? `/tags?page=${page - 1}` : null;
  const older = tags.length > pageLength ? `/tags?page=${page + 1}` : null;
  const data = { tags: tags.slice(0, pageLength), newer, older };
  return showPage(service, request, reply, 'tags/tags', data, { title: 'Tags', area: 'tags' });
}

async function preview(service: Service, siteId: string, code: string | undefined) {
  const known = code === undefined ? null : await existingCode(service.db, siteId, code);
  if (known === null) return null;
  const facts = await loadTagFacts(service, known, service.now());
  const record = composeRecord(facts, Math.max(1, facts.lot.pieces), service.now());
  const [holds, photo] = await Promise.all([
    openHolds(service.db, facts.lot.id),
    newestPhoto(service.db, facts.lot.id, service.now()),
  ]);
  return {
    rows: recordFacts(record),
    changes: waterChanges(record),
    ...nameWords(record),
    code: facts.lot.code,
    ownCode: facts.lot.ownCode,
    tradeName: facts.lot.tradeName,
    note: facts.lot.note,
    pieces: facts.lot.pieces,
    alerts: facts.openAlerts,
    photo,
    gate: await gateNotice(service.pool, facts.lot.id, 'tag'),
    holds: holds.map(({ id, buyer, pieces }) => ({
      value: id,
      text: `${buyer}, ${plural(pieces, 'piece', 'pieces')}`,
    })),
  };
}

async function showNewTag(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const asked = (request.query as { lot?: string } | undefined)?.lot;
  const form =
    refused ??
    freshForm({
      lot: asked ?? '',
      pieces: 1,
      reason: '',
      sold: '',
      buyer: '',
      holdId: '',
      hidePhoto: '',
      hereAlone: '',
    });
  const code = String(form.typed.lot ?? '');
  const shown = code === '' ? null : await preview(service, request.site.id, code);
  const data = { preview: shown, reach: publicAddress(service.config, request) };
  return showPage(service, request, reply, 'tags/new', data, { title: 'Issue a tag', area: 'tags', form });
}

async function postTag(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: newTagSchema,
    act: (work, { hereAlone, ...tag }) => {
      confirmReach(publicAddress(service.config, request), hereAlone);
      return issueTag(service, work, tag);
    },
    done: ({ id }) => ({
      to: `/tags/${id}`,
      notice: 'The tag is issued. Print it, or let the buyer scan it.',
    }),
    again: (form) => showNewTag(service, request, reply, form),
  });
}

async function showTag(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const tag = await readTag(service, { id: pathId(request, 'id', 'This tag') });
  const reach = publicAddress(service.config, request);
  const address = reach.base === null ? null : new URL(`/t/${tag.token}`, reach.base).href;
  const qr = address === null ? null : qrCode(address);
  const data = {
    tag,
    returned: await returnedUnder(service.pool, tag.id),
    foundSince: await foundSince(service.pool, tag),
    address,
    reach,
    path: `/t/${tag.token}`,
    qr,
    markSource: await markOfLot(service.db, tag.lotId),
    rows: recordFacts(tag.record),
    label: labelFacts(tag.record),
    ...nameWords(tag.record),
  };
  const form = refused ?? freshForm({ reason: '' });
  return showPage(service, request, reply, 'tags/tag', data, {
    title: `Tag of ${tag.record.lot}`,
    area: 'tags',
    form,
  });
}

async function postWithdrawal(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This tag');
  return submit(request, reply, {
    schema: withdrawalSchema,
    act: (work, { reason }) => withdrawTag(work, id, reason),
    done: () => ({
      to: `/tags/${id}`,
      notice: 'The tag is withdrawn; its page says so. A sale or an order under it stands.',
    }),
    again: (form) => showTag(service, request, reply, form),
  });
}
