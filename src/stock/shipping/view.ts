import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { litresNoted, sizeWords } from '../../platform/units/measures.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { acceptedNames } from '../kinds/accepted-names.ts';
import { rangeWords } from './box.rules.ts';
import { claimClock } from './claims.rules.ts';
import { printedWords, SOURCES } from './permits.rules.ts';
import { boxOf, checkShipping } from './shipments.ts';
import { METHODS, PACK_CHOICES, WALL_CHOICES } from './shipping.schema.ts';
import { storedPermit, storedShipment } from './stored.ts';
import { temperatureUnit, temperatureWords } from './temperatures.ts';

const textOf = (choices: readonly { value: string; text: string }[], value: string) =>
  choices.find((one) => one.value === value)?.text ?? value;

/** The box, the permit and the arrival of an order, as its page shows them. */
export async function shippingView(
  reader: SqlReader,
  order: { id: string; lines: readonly { pieces: number; deadOnArrival: number | null }[] },
  now: Date,
) {
  const shipment = await storedShipment(reader, order.id);
  const permit = await storedPermit(reader, order.id);
  const accepted = await acceptedNames(reader);
  const check = await checkShipping(reader, order.id, shipment === null ? null : boxOf(shipment));
  const say = temperatureWords(await temperatureUnit(reader));
  const dead = order.lines.reduce((sum, { deadOnArrival }) => sum + (deadOnArrival ?? 0), 0);
  const sent = order.lines.reduce((sum, { pieces }) => sum + pieces, 0);
  return {
    permit: permit.map((line) => ({
      ...line,
      printed: printedWords(line.species, accepted),
      source: textOf(SOURCES, line.sourceCode),
    })),
    sources: SOURCES,
    differences: check.differences,
    box:
      shipment === null
        ? null
        : {
            rows: boxRows(shipment, say),
            ends: check.box?.range == null ? '' : rangeWords(check.box.range, say),
            why: check.box?.range?.why ?? '',
            lines: check.box?.lines ?? [],
            answer: check.box?.answer ?? 'fits',
            despite: shipment.despite,
            arrivedAt: shipment.arrivedAt,
            late: shipment.late,
            note: shipment.resultNote,
            result: `${plural(sent - dead, 'piece', 'pieces')} alive, ${dead} dead when it was opened`,
            dead,
            claim: claimClock(shipment, now),
            claimHours: shipment.claimHours,
          },
  };
}

type Stored = NonNullable<Awaited<ReturnType<typeof storedShipment>>>;

function boxRows(shipment: Stored, say: (degC: number) => string) {
  const { lengthMm, widthMm, bags, litresABag, hours, startDegC, coldestDegC, warmestDegC } = shipment;
  const unsaid = 'not entered';
  return [
    { label: 'Carrier', text: shipment.carrier || unsaid },
    { label: 'Door to door', text: hours === null ? unsaid : `${numberWords(hours)} h` },
    { label: 'Box', text: textOf(WALL_CHOICES, shipment.wall) },
    {
      label: 'Inside',
      text: lengthMm === null || widthMm === null ? unsaid : sizeWords(lengthMm, widthMm),
    },
    {
      label: 'Bags',
      text: bags === null || litresABag === null ? unsaid : `${bags} with ${litresNoted(litresABag)} each`,
    },
    { label: 'Packed', text: textOf(METHODS, shipment.method) },
    { label: 'Pack', text: textOf(PACK_CHOICES, shipment.pack) },
    { label: 'Water when packed', text: startDegC === null ? unsaid : say(startDegC) },
    {
      label: 'Air on the way',
      text:
        coldestDegC === null || warmestDegC === null ? unsaid : `${say(coldestDegC)} to ${say(warmestDegC)}`,
    },
  ];
}
