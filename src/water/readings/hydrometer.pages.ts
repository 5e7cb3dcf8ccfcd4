import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { number } from '../../platform/web/fields.ts';
import { type FormState, freshForm, refusedForm } from '../../platform/web/forms.ts';
import { checked } from '../../platform/web/json.ts';
import { showPage } from '../../platform/web/pages.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { hydrometerSalinity } from '../../science/seawater.ts';
import { convert, GRAVITY_BASES } from '../../science/units.ts';

/** What a hydrometer shows, as salinity: its own temperatures and the sample's are both asked for. */
export function hydrometerPages(app: FastifyInstance, service: Service): void {
  app.get('/water/hydrometer', (request, reply) => showHydrometer(service, request, reply));
}

const bases = Object.keys(GRAVITY_BASES) as [string, ...string[]];
const asked = z.object({
  gravity: number({ what: 'what it shows', low: 0.99, high: 1.05 }),
  base: z.enum(bases, 'Choose what the scale is made for. It is printed on the hydrometer.'),
  sample: number({ what: 'the temperature of the sample', low: 0, high: 104 }),
  degrees: z.enum(['C', 'F']).default('C'),
});

interface Answer {
  salinity: string;
  others: { base: string; gravity: string }[];
}

async function showHydrometer(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const query = request.query as Record<string, string>;
  const { form, answer } = query.gravity === undefined ? unasked() : answered(query);
  if (form.errors.length > 0) reply.status(422);
  const data = { answer, bases: bases.map((base) => ({ value: base, text: base })), degrees };
  return showPage(service, request, reply, 'water/hydrometer', data, {
    title: 'Hydrometer',
    area: 'water',
    form,
  });
}

const degrees = [
  { value: 'C', text: '°C' },
  { value: 'F', text: '°F' },
];

const unasked = (): { form: FormState; answer: Answer | null } => ({
  form: freshForm({ gravity: '', base: '', sample: '', degrees: 'C' }),
  answer: null,
});

function answered(query: Record<string, string>): { form: FormState; answer: Answer | null } {
  const typed = { gravity: '', base: '', sample: '', degrees: 'C', ...query };
  try {
    return { form: freshForm(typed), answer: answerTo(checked(asked, typed)) };
  } catch (error) {
    if (error instanceof Refusal) return { form: refusedForm(typed, error.fields), answer: null };
    if (!(error instanceof RangeError)) throw error;
    const message =
      'No seawater shows that at this temperature. Check the reading, the scale and the temperature.';
    return { form: refusedForm(typed, [{ field: 'gravity', message }]), answer: null };
  }
}

function answerTo({ gravity, base, sample, degrees: unit }: z.output<typeof asked>): Answer {
  const scale = GRAVITY_BASES[base];
  if (scale === undefined) throw new RangeError(`no such base: ${base}`);
  const salinity = hydrometerSalinity(gravity, scale, unit === 'F' ? (sample - 32) / 1.8 : sample);
  const others = bases.map((other) => ({
    base: other,
    gravity: numberWords(convert('salinity', salinity, 'PSU', other), 4),
  }));
  return { salinity: numberWords(salinity, 1), others };
}
