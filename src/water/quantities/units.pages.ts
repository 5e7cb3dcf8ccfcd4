import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import { seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { canonicalUnits, inUnits } from '../../platform/units/units.ts';
import { optionalNumber, optionalText } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { listQuantities, type Quantity, sayBand, unitChoices, unitName } from './quantities.ts';
import { setUnits, unitsStanding } from './units.ts';

/** In which units the farm reads and writes; what is stored does not change with them. */
export function unitPages(app: FastifyInstance, service: Service): void {
  app.get('/water/units', (request, reply) =>
    inUnits(canonicalUnits, () => showUnits(service, request, reply)),
  );
  app.post(
    '/water/units',
    takes(() => unitsSchema([])),
    (request, reply) => inUnits(canonicalUnits, () => postUnits(service, request, reply)),
  );
}

const decimalsName = (code: string) => `${code}-decimals`;
const decimalChoices = [0, 1, 2, 3, 4, 5].map((count) => ({
  value: count,
  text: count === 0 ? 'whole' : String(count),
}));

async function showUnits(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const quantities = await listQuantities(service.db);
  const form = refused ?? freshForm();
  const rows = quantities.map((quantity) => ({
    code: quantity.code,
    name: quantity.name,
    units: unitChoices(quantity).sort((a, b) => a.text.localeCompare(b.text)),
    unit: form.typed[quantity.code] ?? quantity.displayUnit,
    decimalsName: decimalsName(quantity.code),
    decimals: form.typed[decimalsName(quantity.code)] ?? quantity.decimals,
    usual: sayBand(quantity, quantity.plausibleLow, quantity.plausibleHigh),
    source: quantity.source,
  }));
  const said = quantities.map(
    ({ code, name, displayUnit, decimals }) => [code, name, displayUnit, decimals] as const,
  );
  const others = said.filter(
    ([code, , unit, decimals]) =>
      (form.typed[code] ?? unit) !== unit ||
      String(form.typed[decimalsName(code)] ?? decimals) !== String(decimals),
  );
  const now = others.map(
    ([code, name, unit, decimals]) => `${name} in ${unitName(code, unit) || 'pH'}, ${decimals} decimals`,
  );
  const data = {
    ...{ rows, decimalChoices, seen: await seenNow(service.db, unitsStanding) },
    theirs: reply.statusCode === 409 ? now.join('; ') : '',
  };
  return showPage(service, request, reply, 'water/units', data, { title: 'Units', area: 'water', form });
}

async function postUnits(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const quantities = await listQuantities(service.db);
  return submit(request, reply, {
    schema: unitsSchema(quantities),
    over: unitsStanding,
    act: (work, wanted) => setUnits(work, wanted, quantities),
    done: () => ({
      to: '/water/units',
      notice: 'Saved. Everything is shown in these units; what was entered stays as it was.',
    }),
    again: (form) => showUnits(service, request, reply, form),
  });
}

/** A unit and a number of decimals for each quantity; what is left out stays as it is. */
function unitsSchema(quantities: readonly Quantity[]) {
  const decimals = optionalNumber({ what: 'the decimals', low: 0, high: 5 });
  const fields = quantities.flatMap(({ code }) => [
    [code, optionalText(40)] as const,
    [decimalsName(code), decimals] as const,
  ]);
  return z.object(Object.fromEntries(fields)).transform((typed) => {
    const values = typed as Record<string, string | number | null>;
    return new Map(
      quantities.map(({ code, displayUnit, decimals: current }) => {
        const count = values[decimalsName(code)];
        const unit = String(values[code] || displayUnit);
        return [code, { unit, decimals: typeof count === 'number' ? Math.round(count) : current }];
      }),
    );
  });
}
