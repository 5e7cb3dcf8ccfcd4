import { litres } from '../../platform/units/measures.ts';
import { type Quantity, unitName } from '../quantities/quantities.ts';
import { figureOf } from './figure.ts';
import type { HistoryPoint, Overview } from './overview.ts';
import { columnSpan, usualBand, type WallPoint } from './wall.rules.ts';
import type { QuantityAlert } from './wall.ts';
import { wallChart } from './wall-chart.ts';

/** The columns of the wall, in this order. */
export const wallCodes = [
  'alkalinity',
  'calcium',
  'magnesium',
  'nitrate',
  'phosphate',
  'salinity',
  'temperature',
];
/** Days on the wall's time axis; own choice. */
export const WALL_DAYS = 60;
/** A chart is at least so many times as high as the error of a test. */
const LEAST_ERRORS = 6;

/** The wall of small charts: a row for each system, a column for each quantity, one height to a column. */
export function wallOf(
  columns: readonly Quantity[],
  { systems, latest }: Overview,
  traces: readonly HistoryPoint[],
  about: readonly QuantityAlert[],
  { from, to }: { from: Date; to: Date },
) {
  const key = (systemId: string, code: string) => `${systemId} ${code}`;
  const points = Map.groupBy(traces, ({ systemId, quantityCode }) => key(systemId, quantityCode));
  const traceOf = (systemId: string, code: string): WallPoint[] =>
    (points.get(key(systemId, code)) ?? []).map(({ at, value, trust }) => ({
      ...{ at, value },
      unconfirmed: trust === 'unconfirmed',
    }));
  const heights = new Map(
    columns.map(({ code }) => {
      const errors = systems.flatMap(({ id }) => latest.get(id)?.get(code)?.uncertainty ?? []);
      const all = systems.map(({ id }) => traceOf(id, code));
      return [code, columnSpan(all, LEAST_ERRORS * Math.max(0, ...errors) || 1)];
    }),
  );
  const cellOf = (systemId: string, quantity: Quantity) => {
    const { code } = quantity;
    const alert = about.find((one) => one.systemId === systemId && one.quantityCode === code);
    const trace = traceOf(systemId, code);
    const chart = wallChart({
      ...{ points: trace, from, to, usual: usualBand(trace, to), span: heights.get(code) ?? 1 },
      ...{ oddSince: alert?.openedAt ?? null, severity: alert?.severity ?? null },
    });
    return {
      ...figureOf(quantity, latest.get(systemId)?.get(code)),
      picture: trace.length > 1 ? chart : '',
      severity: alert?.severity ?? '',
      title: alert?.title ?? '',
      href: alert === undefined ? `/water/systems/${systemId}?quantity=${code}` : `/watch/${alert.id}`,
    };
  };
  return {
    heads: columns.map(({ code, name, displayUnit }) => ({ name, unit: unitName(code, displayUnit) })),
    rows: systems.map((system) => ({
      ...{ id: system.id, name: system.name, volumeL: system.volumeL, litres: litres(system.volumeL) },
      cells: columns.map((quantity) => cellOf(system.id, quantity)),
    })),
  };
}
