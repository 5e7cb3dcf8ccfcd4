import { lightField } from '../../src/science/kriging.ts';

/** A slot's place on its rack. */
interface Place {
  row: number;
  column: number;
}

/** Light at one slot, umol/(m2 s), with its standard error. */
export interface LightAt {
  par: number;
  error: number;
  measured: boolean;
}

/** Light at every slot from readings at some of them, as the service itself works it out. */
export function interpolate(
  points: readonly { slot: Place; par: number }[],
  slots: readonly Place[],
): LightAt[] {
  const place = ({ row, column }: Place) => ({ x: column, y: row });
  const field = lightField(points.map(({ slot, par }) => ({ ...place(slot), value: par })));
  return slots.map((slot) => {
    const { value, sd, basis } = field.at(place(slot));
    return { par: value, error: sd ?? 0, measured: basis === 'measured' };
  });
}
