import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { optionalText } from '../../platform/web/fields.ts';
import { fileOf, takeFiles } from '../../platform/web/files.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { plural } from '../../platform/words/numbers.ts';
import { withTicks } from '../base/ticks.ts';
import { largestPhoto } from '../lot-page/photos.pages.ts';
import { makePhoto } from '../lots/photo-image.ts';
import { addSharedPhoto } from '../lots/photos.ts';
import { type SeveralForm, severalForm } from './several-form.ts';

/** One picture of several lots, kept with each of them; and the way to a picture of each. */
export async function severalPhotoPages(app: FastifyInstance, service: Service): Promise<void> {
  await app.register(async (scope) => {
    await takeFiles(scope, largestPhoto);
    severalForm(scope, service, photoForm);
  });
}

/** Lots that one picture can show so that each is known again (own choice). */
const MOST_IN_PICTURE = 40;
const path = '/stock/several/photo';

const photoSchema = (timeZone: string, now: Date) =>
  z.object({ at: pastMoment(timeZone, now), note: optionalText(300) });

const photoForm: SeveralForm<ReturnType<typeof photoSchema>, { id: string }> = {
  path,
  view: 'stock/several-photo',
  area: 'stock',
  title: (count) => `Photos of ${plural(count, 'lot', 'lots')}`,
  button: 'Save the picture with all of them',
  schema: ({ timeZone, now }) => photoSchema(timeZone, now),
  fresh: () => ({ at: '', note: '' }),
  data: (_, lots) => {
    const codes = lots.map(({ code }) => code);
    const back = encodeURIComponent(withTicks(path, codes));
    return { own: lots.map(({ code, called }) => ({ called, href: `/stock/${code}/photo?back=${back}` })) };
  },
  outcomes: (_, __, lots) =>
    lots.map((_lot, i) => ({
      refused: i < MOST_IN_PICTURE ? '' : `One picture is kept with at most ${MOST_IN_PICTURE} lots.`,
      words: 'Gets the picture',
    })),
  act: async (work, { request }, lots, { at, note }) => {
    const sent = fileOf(request);
    if (sent === null) throw new Refusal('Choose a photo.', { field: 'photo' });
    const image = await makePhoto(sent.content);
    const of = `One picture of ${plural(lots.length, 'lot', 'lots')}: ${lots.map((lot) => lot.called).join(', ')}`;
    const said = note === '' ? of : `${note}. ${of}`;
    return addSharedPhoto(
      work,
      lots.map(({ id, code }) => ({ id, code })),
      { ...image, takenAt: at, note: said.slice(0, 500) },
    );
  },
  done: ({ id }, count) => ({
    notice: `The picture is kept with ${plural(count, 'lot', 'lots')}.`,
    undo: `/photos/${id}/voiding?of=all`,
  }),
};
