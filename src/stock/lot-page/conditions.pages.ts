import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { optionalNumber, text } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { conditionWords } from '../base/condition-states.rules.ts';
import { lotHref } from '../base/lot-href.ts';
import { causeChoices, lossCause } from '../losses/losses.schema.ts';
import { conditionChoices, conditionNoteSchema, gradeChoices } from '../lots/conditions.schema.ts';
import { findCondition, noteCondition, voidCondition } from '../lots/conditions.ts';
import { takeLossBack } from '../lots/counts-taken-back.ts';
import { pestChoices } from '../pests/pests.schema.ts';
import { type LotForm, lotForm } from './lot-form.ts';

/** How a lot looked: noting it, and voiding a note made by mistake. */
export function conditionPages(app: FastifyInstance, service: Service): void {
  lotForm(app, service, conditionForm);
  app.get('/conditions/:id/voiding', (request, reply) => showVoiding(service, request, reply));
  app.post('/conditions/:id/voiding', takes(voidingBody), (request, reply) =>
    postVoiding(service, request, reply),
  );
}

/** What is noted of one lot: the same, and how many pieces were lost. */
const conditionSchema = (timeZone: string, now: Date) =>
  conditionNoteSchema(timeZone, now).extend({
    lostPieces: optionalNumber({ what: 'how many were lost', low: 0, high: 100_000 }).pipe(
      z.number().int('Enter whole pieces.').nullable(),
    ),
    cause: lossCause(),
  });

const conditionForm: LotForm<ReturnType<typeof conditionSchema>, { id: string }> = {
  page: 'condition',
  resource: 'conditions',
  view: 'stock/condition',
  title: () => 'Record condition',
  schema: ({ timeZone, now }) => conditionSchema(timeZone, now),
  fresh: () => ({
    state: '',
    grade: '',
    note: '',
    at: '',
    lostPieces: '',
    cause: '',
    pest: '',
    pestCount: '',
  }),
  data: () => ({ states: conditionChoices, grades: gradeChoices, pests: pestChoices, causes: causeChoices }),
  act: (work, { lot }, value) => noteCondition(work, { lotId: lot.id, ...value }),
  done: (_, { lot }, { state, grade }) => ({
    to: lotHref(lot.code),
    notice: `Noted of ${lot.code}: ${conditionWords(state, grade)}.`,
  }),
};

async function showVoiding(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({ reason: '' }),
) {
  const id = pathId(request, 'id', 'This note');
  const { state, grade, at, note, lot } = await findCondition(service.db, id);
  const data = {
    ...{ code: lot.code, words: conditionWords(state, grade), at, note },
    heading: 'Void a note',
    lead: `It stays in the record, struck through, and no rule counts it any more.${state === 'lost' ? ' Pieces that were entered as lost with it come back on the count.' : ''}`,
    action: `/conditions/${id}/voiding`,
    persons: `/persons/condition/${id}`,
  };
  return showPage(service, request, reply, 'stock/voiding', data, {
    title: data.heading,
    area: 'stock',
    form,
  });
}

const voidingBody = z.object({ reason: text('why it is void') });

async function postVoiding(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This note');
  return submit(request, reply, {
    schema: voidingBody,
    act: async (work, { reason }) => {
      const { lotId, state, at, lot } = await findCondition(work.tx, id);
      await voidCondition(work, id, reason);
      if (state === 'lost') await takeLossBack(work, { lotId, at }, reason);
      return lot;
    },
    done: ({ code }) => ({ to: lotHref(code), notice: 'The note is void. It stays visible.' }),
    again: (form) => showVoiding(service, request, reply, form),
  });
}
