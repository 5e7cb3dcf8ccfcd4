import type { FastifyInstance } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { plural } from '../../platform/words/numbers.ts';
import { agoWords } from '../../platform/words/times.ts';
import { conditionWords } from '../base/condition-states.rules.ts';
import { conditionChoices, conditionNoteSchema, gradeChoices } from '../lots/conditions.schema.ts';
import { lastLooks, noteConditions } from '../lots/conditions.ts';
import { pestChoices } from '../pests/pests.schema.ts';
import { type SeveralForm, severalForm } from './several-form.ts';

/** Noting how several lots look. */
export function severalConditionPages(app: FastifyInstance, service: Service): void {
  severalForm(app, service, conditionForm);
}

const conditionForm: SeveralForm<ReturnType<typeof conditionNoteSchema>> = {
  path: '/stock/several/condition',
  view: 'stock/several-condition',
  area: 'stock',
  title: (count) => `Note how ${plural(count, 'lot looks', 'lots look')}`,
  button: 'Note it',
  schema: ({ timeZone, now }) => conditionNoteSchema(timeZone, now),
  fresh: () => ({ state: '', grade: '', note: '', at: '', pest: '', pestCount: '' }),
  data: () => ({ states: conditionChoices, grades: gradeChoices, pests: pestChoices }),
  outcomes: async ({ now, timeZone }, reader, lots, value) => {
    const looks = await lastLooks(
      reader,
      lots.map(({ id }) => id),
    );
    return lots.map((lot) => {
      const look = looks.get(lot.id);
      const last =
        look === undefined
          ? 'never noted before'
          : `last: ${conditionWords(look.state, look.grade)}, ${agoWords(look.at, timeZone, now)}`;
      const words = value === null ? last : `${conditionWords(value.state, value.grade)}; ${last}`;
      return { refused: lot.pieces === 0 ? 'No pieces are left.' : '', words };
    });
  },
  act: async (work, _, lots, value) => {
    await noteConditions(
      work,
      lots.map(({ id, code }) => ({ ...value, lotId: id, code })),
    );
  },
  done: (_, count, { state, grade }) => ({
    notice: `Noted of ${plural(count, 'lot', 'lots')}: ${conditionWords(state, grade)}.`,
  }),
};
