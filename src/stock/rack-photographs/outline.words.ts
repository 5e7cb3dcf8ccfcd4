/** Outlines as one path of SVG, in mm on the rack. */
export const pathsOf = (outline: readonly (readonly [number, number][])[] | null): string =>
  (outline ?? []).map((points) => `M${points.map(([x, y]) => `${x} ${y}`).join('L')}Z`).join('');
