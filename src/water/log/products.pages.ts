import type { FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { type FormState, submit } from '../../platform/web/forms.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { raisedCodes, raisesOther, strengthShown } from '../dosing/product-effect.rules.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import { type Quantity, unitName } from '../quantities/quantities.ts';
import type { WaterSystem } from '../systems/systems.ts';
import { productSchema, type SaidEffect, sayProduct, unsaidProducts } from './product-effects.ts';

/** The products of which nobody has said what they raise, each with its form, and with what was said of it in another system. */
export async function productForms(service: Service, system: WaterSystem, quantities: readonly Quantity[]) {
  const products = await unsaidProducts(service.pool, system);
  const raised = raisedCodes.flatMap((code) => quantities.find((one) => one.code === code) ?? []);
  const units = raised.map(
    ({ code, name, displayUnit }) => `${nameInSentence(name)} in ${unitName(code, displayUnit)}`,
  );
  return {
    products: products.map(({ substance, base, doses }) => ({
      value: `${base} ${substance}`,
      text: `${plural(doses, 'dose', 'doses')} of “${substance}”, in ${base}`,
    })),
    offers: products.flatMap(({ substance, base, said }) => {
      if (said === null) return [];
      const quantity = raised.find(({ code }) => code === said.quantityCode);
      const strength =
        quantity === undefined || said.strength === null
          ? ''
          : String(strengthShown(quantity, said.strength));
      return {
        ...{ product: `${base} ${substance}`, raises: quantity?.code ?? raisesOther, strength },
        words: `“${substance}”: ${saidWords(said, base, quantity)}`,
        button: `Use it here for “${substance}”`,
      };
    }),
    productRaises: [
      ...raised.map(({ code, name }) => ({ value: code, text: name })),
      { value: raisesOther, text: 'Something else, none of these' },
    ],
    productHint: `What the label says that 100 mL (100 g, 100 drops) raise 100 L by: ${units.join(', ')}. Leave it empty where you do not know it.`,
  };
}

function saidWords({ system, strength }: SaidEffect, base: string, quantity: Quantity | undefined): string {
  if (quantity === undefined) return `in ${system} it was said to raise none of what use is reckoned for.`;
  const by =
    strength === null
      ? ''
      : `: 100 ${base} in 100 L raise it by ${numberWords(strengthShown(quantity, strength))} ${unitName(quantity.code, quantity.displayUnit)}`;
  return `in ${system} it was said to raise ${nameInSentence(quantity.name)}${by}.`;
}

/** Says what a product raises. `show` draws the page of doses again. */
export function postProduct(
  request: FastifyRequest,
  reply: FastifyReply,
  systemId: string,
  show: (form: FormState) => Promise<unknown>,
) {
  return submit(request, reply, {
    schema: productSchema,
    act: (work, value) => sayProduct(work, systemId, value),
    done: ({ doses }, { product: { substance } }) => ({
      to: `/water/systems/${systemId}/doses`,
      notice: `Saved for ${plural(doses, 'dose', 'doses')} of ${substance}.`,
    }),
    again: show,
  });
}
