import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { optionalNumber, optionalText, tick } from '../../platform/web/fields.ts';
import { confirmReach, publicAddress } from '../../platform/web/public-address.ts';
import { plural } from '../../platform/words/numbers.ts';
import { gateRefusals } from '../../stock/pests/gate.ts';
import { type Outcome, type SeveralForm, severalForm } from '../../stock/several/several-form.ts';
import { openAlertsOf } from '../record/facts.ts';
import { issueTag } from './tags.ts';

/** Issuing a tag for each of several lots. */
export function severalTagPages(app: FastifyInstance, service: Service): void {
  severalForm(app, service, tagForm);
}

/** Tags issued in one change (own choice): each record is put together from all that is known of its lot. */
const MOST_AT_ONCE = 50;

const tagSchema = z.object({
  pieces: optionalNumber({ what: 'how many pieces', low: 1, high: 10_000 }).pipe(
    z.number().int('Enter whole pieces.').nullable(),
  ),
  reason: optionalText(500),
  hidePhoto: tick(),
  hereAlone: tick(),
});

const tagForm: SeveralForm<typeof tagSchema, string[]> = {
  path: '/tags/several',
  view: 'tags/several',
  area: 'tags',
  title: (count) => `Tags for ${plural(count, 'lot', 'lots')}`,
  button: 'Issue a tag for each',
  schema: () => tagSchema,
  fresh: () => ({ pieces: '', reason: '', hidePhoto: '', hereAlone: '' }),
  data: ({ service, request }) => ({ reach: publicAddress(service.config, request) }),
  outcomes: async (_, reader, lots, value) => {
    const alerts = await openAlertsOf(
      reader,
      lots.map(({ id }) => id),
    );
    const gate = await gateRefusals(reader, lots, 'tag', value?.reason ?? '');
    return lots.map((lot, i): Outcome => {
      const pieces = value?.pieces ?? lot.pieces;
      const alert = alerts.get(lot.id);
      const refused =
        lot.pieces === 0
          ? 'No pieces are left.'
          : pieces > lot.pieces
            ? `Only ${plural(lot.pieces, 'piece is', 'pieces are')} there.`
            : alert !== undefined && (value?.reason ?? '') === ''
              ? `An alert is open on it: ${alert}. Enter the reason, or leave it out.`
              : i >= MOST_AT_ONCE
                ? `At most ${MOST_AT_ONCE} tags are issued at once.`
                : '';
      return {
        refused: refused || (gate.get(lot.id) ?? ''),
        words: `A tag for ${plural(pieces, 'piece', 'pieces')}`,
      };
    });
  },
  act: async (work, { service, request }, lots, { pieces, reason, hidePhoto, hereAlone }) => {
    confirmReach(publicAddress(service.config, request), hereAlone);
    const ids: string[] = [];
    for (const lot of lots) {
      const tag = {
        lot: lot.code,
        pieces: pieces ?? lot.pieces,
        reason,
        sold: false,
        buyer: '',
        holdId: null,
        hidePhoto,
      };
      ids.push((await issueTag(service, work, tag)).id);
    }
    return ids;
  },
  done: (ids, count) => ({
    notice: `${plural(count, 'tag is', 'tags are')} issued. Print their labels.`,
    to: `/tags/labels?${ids.map((id) => `tag=${id}`).join('&')}`,
  }),
};
