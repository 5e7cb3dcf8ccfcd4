import { convertDifference, convertMeasure } from '../../science/units.ts';
import { effectOfDose } from '../../water/dosing/dose-effect.rules.ts';
import { makeUpAtSalinity } from '../../water/log/water-changes.rules.ts';
import { raisesNothingReckoned, riseNotKnown } from '../../water/log/words.rules.ts';
import { usualMiddle } from '../../water/quantities/quantities.ts';
import { normalizeName, quantityByName } from '../file/names.rules.ts';
import {
  awaitingAnswer,
  isNotTaken,
  leaveOutChoice,
  leaveOutValue,
  leftOut,
  type NotTaken,
  questionId,
  refusedBecause,
} from '../file/questions.rules.ts';
import { unitReader } from '../file/units.rules.ts';
import { amountOf, unitOf, writtenAmount } from './amounts.rules.ts';
import type { LogColumn } from './columns.rules.ts';
import type { Cells, FileChange, FileDose, FileFeeding, FileUpkeep, LogReader } from './log-reader.rules.ts';

/** Takes what a cell says, or notes its fault under the column and gives null. */
export type Take = <T>(column: LogColumn, value: T | NotTaken) => T | null;

/** The part of an entry that is of its kind alone; what the row's faults leave out is filled with nothing. */
type Own<Entry> = Omit<Entry, 'systemId' | 'at' | 'doneBy' | 'note'>;

/** A text as it is written. Nothing is cut off in silence. */
export function textOf(cells: Cells, column: LogColumn, longest: number): string | NotTaken {
  const text = cells.text(column);
  return text.length <= longest
    ? text
    : refusedBecause(`This is ${text.length} characters long; ${longest} can be kept. Shorten it.`);
}

const needed = (cells: Cells, column: LogColumn, what: string, longest = 200) =>
  cells.text(column) === '' ? refusedBecause(`${what} is missing.`) : textOf(cells, column, longest);

/** Units that a dose may be written in, and what each is kept as. */
const doseUnits = ['mL', 'L', 'g', 'kg', 'mg', 'drops', 'lb', 'fl oz (US)', 'gal (US)', 'gal (UK)'];

function keptDose(value: number, unit: string): { amount: number; unit: string } {
  if (unit === 'mg' || unit === 'lb') return { amount: convertMeasure('mass', value, unit, 'g'), unit: 'g' };
  if (unit.startsWith('fl oz')) return { amount: convertMeasure('volume', value, unit, 'mL'), unit: 'mL' };
  if (unit.startsWith('gal')) return { amount: convertMeasure('volume', value, unit, 'L'), unit: 'L' };
  return { amount: value, unit };
}

/** A dose: its effect as the row states it, else as its words and unit say. */
export function doseOf(reader: LogReader, cells: Cells, systemId: string, take: Take): Own<FileDose> {
  const substance = take('what', needed(cells, 'what', 'What was dosed')) ?? '';
  const written = take(
    'amount',
    amountOf(reader, cells, { units: doseUnits, about: substance.toLowerCase() }),
  );
  const { amount, unit } =
    written === null ? { amount: 0, unit: 'mL' } : keptDose(written.value, written.unit);
  const stated = take('rise', statedEffect(reader, cells));
  const volumeL = reader.farm.systems.find(({ id }) => id === systemId)?.volumeL ?? 0;
  const worked = stated === null && volumeL > 0 ? effectOfDose(substance, amount, unit, volumeL) : null;
  const reason = take('reason', textOf(cells, 'reason', 500)) ?? '';
  const raises =
    worked === null
      ? (stated ?? unsaidOf(reader, cells))
      : { quantityCode: worked.quantityCode, effect: worked.rise };
  return { kind: 'doses', substance, amount, unit, ...raises, concerns: [], reason };
}

/** What a row says of its effect, as it is kept. */
type Stated = Pick<FileDose, 'quantityCode' | 'effect' | 'unsaid'>;

/** Where no rise is written, the row may still name what it raises. */
function unsaidOf({ farm: { quantities } }: LogReader, cells: Cells): Stated {
  const code = quantityByName(cells.text('raises'))?.code;
  const quantity = quantities.find((one) => one.code === code);
  return { quantityCode: quantity?.code ?? null, effect: null, unsaid: true };
}

function statedEffect(reader: LogReader, cells: Cells): Stated | null | NotTaken {
  const text = cells.text('rise').trim();
  if (text === '') return null;
  const name = cells.text('raises');
  if (name.trim().toLowerCase() === raisesNothingReckoned) return { quantityCode: null, effect: 0 };
  if (text.toLowerCase() === riseNotKnown)
    return { quantityCode: unsaidOf(reader, cells).quantityCode, effect: null };
  const code = quantityByName(name)?.code;
  const quantity = reader.farm.quantities.find((one) => one.code === code);
  if (quantity === undefined)
    return refusedBecause(
      name === '' ? 'What it raises is missing.' : `“${name}” is nothing that is tested here.`,
    );
  const lowers = /^[-−]/.test(text);
  const own: Cells = {
    ...cells,
    text: (column) =>
      column === 'unit'
        ? cells.text('riseUnit')
        : cells.text(column).replace(column === 'rise' ? /^[-−]/ : '', ''),
  };
  const written = writtenAmount(reader, own, 'rise');
  if (isNotTaken(written)) return written;
  const id = questionId('rise-unit', quantity.code, written.unit);
  const unit = unitReader(reader.questions)(quantity, written.unit, id, cells.row);
  if (isNotTaken(unit)) return unit;
  const rise = convertDifference(
    quantity.code,
    written.value,
    unit.unit,
    quantity.canonicalUnit,
    usualMiddle(quantity),
  );
  return { quantityCode: quantity.code, effect: lowers ? -rise : rise };
}

const changeUnits = ['L', '%', 'mL', 'gal (US)', 'gal (UK)'];

export function changeOf(reader: LogReader, cells: Cells, systemId: string, take: Take): Own<FileChange> {
  const written = take('amount', amountOf(reader, cells, { units: changeUnits, about: '' }));
  const system = reader.farm.systems.find(({ id }) => id === systemId);
  const makeUp = take('newWater', newWaterOf(cells, system?.makeUp ?? {}));
  const volumeL = written === null || system === undefined ? 0 : changedLitres(written, system.volumeL);
  if (system !== undefined && volumeL > system.volumeL)
    take('amount', refusedBecause(`More than the ${system.volumeL} L that ${system.name} holds.`));
  return { kind: 'water_changes', volumeL, makeUp };
}

const changedLitres = ({ value, unit }: { value: number; unit: string }, systemL: number) =>
  unit === '%' ? (systemL * value) / 100 : convertMeasure('volume', value, unit, 'L');

/** "usual" or nothing; "purified"; "30 PSU"; or what it held, as a list of this service has it: "salinity 30; calcium 420". */
function newWaterOf(cells: Cells, usual: Record<string, number>): Record<string, number> | null | NotTaken {
  const text = cells.text('newWater').trim();
  if (text === '' || /^(the )?usual/i.test(text)) return null;
  if (/^(purified|ro|rodi|ro\/di|deionised|deionized|distilled|fresh(?= ?water))( ?water)?$/i.test(text))
    return { ...makeUpAtSalinity(usual, 0) };
  const mixed = Number(
    /^(?:mixed to )?(\d+(?:[.,]\d+)?)\s*(?:psu|ppt)$/i.exec(text)?.[1]?.replace(',', '.') ?? Number.NaN,
  );
  if (mixed > 0 && mixed <= 60) return { ...makeUpAtSalinity(usual, mixed) };
  const parts = text.split(';').map((part) => /^\s*([a-z]+) (-?\d+(?:\.\d+)?(?:e-?\d+)?)\s*$/.exec(part));
  const read = parts.every((part) => part !== null && quantityByName(part[1] ?? '') !== null);
  return read
    ? Object.fromEntries(parts.map((part) => [part?.[1] ?? '', Number(part?.[2])]))
    : refusedBecause(
        `“${text}” is not a water we know. Write usual, purified, or the salinity it was mixed to, like 30 PSU.`,
      );
}

const foodUnits = ['g', 'kg', 'mg', 'lb'];

/** A feeding. An amount that is no weight (cubes, sheets, mL) is kept with the food's name. */
export function feedingOf(reader: LogReader, cells: Cells, systemId: string, take: Take): Own<FileFeeding> {
  const food = take('food', needed(cells, 'food', 'What was fed')) ?? '';
  const fed = cells.text('amount') === '' ? null : take('amount', fedAmount(reader, cells));
  return {
    kind: 'feedings',
    food: fed?.beside ? `${food}, ${fed.beside}` : food,
    amountG: fed?.grams ?? null,
    tankId: take('tank', tankOf(reader, cells, systemId)),
    pumpsOffMin: take('pumpsOff', minutesOf(cells)),
    response: take('response', textOf(cells, 'response', 300)) ?? '',
  };
}

function fedAmount(reader: LogReader, cells: Cells): { grams: number | null; beside: string } | NotTaken {
  const written = writtenAmount(reader, cells, 'amount');
  if (isNotTaken(written)) return written;
  const isWeight =
    written.unit === '' ||
    /^(g|gr|grams?|grammes?|kg|kilo(gram)?s?|mg|milligrams?|lbs?|pounds?)\.?$/i.test(written.unit);
  if (!isWeight) return { grams: null, beside: `${written.value} ${written.unit}` };
  const unit = unitOf(reader, cells, { written: written.unit, units: foodUnits, about: '' });
  return isNotTaken(unit)
    ? unit
    : { grams: convertMeasure('mass', written.value, unit.unit, 'g'), beside: '' };
}

function tankOf({ farm, questions }: LogReader, cells: Cells, systemId: string): string | null | NotTaken {
  const name = cells.text('tank').trim();
  if (name === '' || /^(all|the system|whole system)$/i.test(name)) return null;
  const own = farm.tanks.filter((tank) => tank.systemId === systemId);
  const found = own.find((tank) => normalizeName(tank.name) === normalizeName(name));
  if (found !== undefined || systemId === '') return found?.id ?? null;
  const answer = questions.ask(questionId('tank', systemId, name), cells.row, () => ({
    text: `Which tank is “${name}”?`,
    hint: 'No tank of the system has that name.',
    choices: [
      { value: 'system', text: 'The system as a whole' },
      ...own.map(({ id, name: text }) => ({ value: id, text })),
      leaveOutChoice,
    ],
  }));
  if (answer === '') return awaitingAnswer;
  if (answer === leaveOutValue) return leftOut;
  return answer === 'system' ? null : answer;
}

function minutesOf(cells: Cells): number | null | NotTaken {
  const text = cells.text('pumpsOff').trim();
  if (text === '' || text === '-' || /^no(ne)?$/i.test(text)) return null;
  const minutes = Number(text.replace(/\s*min(utes)?\.?$/i, ''));
  return Number.isInteger(minutes) && minutes >= 1 && minutes <= 240
    ? minutes
    : refusedBecause(`“${text}” is not a whole number of minutes from 1 to 240.`);
}

/** A service or a test: of a device of its system, or of a circuit. */
export function upkeepOf(reader: LogReader, cells: Cells, systemId: string, take: Take): Own<FileUpkeep> {
  const device = take('device', deviceOf(reader, cells, systemId));
  const work = take('work', workOf(reader, cells)) ?? 'service';
  if (device?.isCircuit && work === 'service')
    take('work', refusedBecause('A circuit is tested; services are those of a device.'));
  return {
    kind: 'upkeep',
    equipmentId: device !== null && !device.isCircuit ? device.id : null,
    circuitId: device?.isCircuit ? device.id : null,
    work,
  };
}

function deviceOf({ farm, questions }: LogReader, cells: Cells, systemId: string) {
  const name = cells.text('device').trim();
  if (name === '') return refusedBecause('Which device it was is missing.');
  const own = farm.devices.filter((one) => systemId === '' || one.systemId === systemId || one.isCircuit);
  const [only, second] = own.filter((one) => normalizeName(one.name) === normalizeName(name));
  if (only !== undefined && second === undefined) return only;
  const answer = questions.ask(questionId('device', systemId, name), cells.row, () => ({
    text: `Which device or circuit is “${name}”?`,
    hint: only === undefined ? 'None has that name.' : 'Several have that name.',
    choices: [...own.map(({ id, name: text }) => ({ value: id, text })), leaveOutChoice],
  }));
  if (answer === '') return awaitingAnswer;
  return own.find(({ id }) => id === answer) ?? leftOut;
}

function workOf({ questions }: LogReader, cells: Cells): 'service' | 'test' | NotTaken {
  const text = cells.text('work').trim();
  if (/^(service|serviced|clean|cleaned|cleaning|maintenance|descaled?)$/i.test(text)) return 'service';
  if (/^(test|tested|check|checked)$/i.test(text)) return 'test';
  const answer = questions.ask(questionId('work', text), cells.row, () => ({
    text: text === '' ? 'Was it a service or a test?' : `Is “${text}” a service or a test?`,
    hint: 'A service cleans or mends; a test shows that a guard works.',
    choices: [{ value: 'service', text: 'A service' }, { value: 'test', text: 'A test' }, leaveOutChoice],
  }));
  if (answer === '') return awaitingAnswer;
  return answer === 'service' || answer === 'test' ? answer : leftOut;
}
