import { litres } from '../../platform/units/measures.ts';
import { type Quantity, unitName } from '../quantities/quantities.ts';
import { figureOf } from './figure.ts';
import { traceKey } from './kept-traces.ts';
import type { Overview } from './overview.ts';
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

/** What the wall is drawn from. */
export interface WallData {
  overview: Pick<Overview, 'systems' | 'latest'>;
  /** By `traceKey`. */
  traces: ReadonlyMap<string, readonly WallPoint[]>;
  about: readonly QuantityAlert[];
  /** "probe not trusted since 09:00" where a probe of the quantity has no vote; '' where none is doubted. */
  untrusted(systemId: string, code: string): string;
  from: Date;
  to: Date;
}

/** The wall of small charts: a row for each system, a column for each quantity, one height to a column. */
export function wallOf(
  columns: readonly Quantity[],
  { overview: { systems, latest }, traces, about, untrusted, from, to }: WallData,
) {
  const traceOf = (systemId: string, code: string) => traces.get(traceKey(systemId, code)) ?? [];
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
    const chart = () =>
      wallChart({
        ...{ points: trace, from, to, usual: usualBand(trace, to), span: heights.get(code) ?? 1 },
        ...{ oddSince: alert?.openedAt ?? null, severity: alert?.severity ?? null },
      });
    return {
      ...figureOf(quantity, latest.get(systemId)?.get(code), untrusted(systemId, code)),
      picture: trace.length > 1 ? chart() : '',
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
