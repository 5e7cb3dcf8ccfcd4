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

const METER_ERROR = 0.03;
/** How the light may differ between slots one pitch apart, as a part of it. */
const PER_PITCH = 0.02;

/** Light at every slot from readings at some, by weights of inverse squared distance. */
export function interpolate(
  points: readonly { slot: Place; par: number }[],
  slots: readonly Place[],
): LightAt[] {
  return slots.map((slot) => {
    const near = points.map((point) => ({ par: point.par, distance: distance(point.slot, slot) }));
    const here = near.find((point) => point.distance === 0);
    if (here) return { par: here.par, error: METER_ERROR * here.par, measured: true };
    const weights = near.map((point) => 1 / point.distance ** 2);
    const total = weights.reduce((sum, weight) => sum + weight, 0);
    const par = near.reduce((sum, point, i) => sum + (point.par * (weights[i] ?? 0)) / total, 0);
    const closest = Math.min(...near.map((point) => point.distance));
    return { par, error: par * Math.hypot(METER_ERROR, PER_PITCH * closest), measured: false };
  });
}

const distance = (a: Place, b: Place) => Math.hypot(a.row - b.row, a.column - b.column);
