/** A mask: 1 where a px belongs. */
export interface Mask {
  width: number;
  height: number;
  on: Uint8Array;
}

/** A px belongs where most of the px around it do, itself included: takes out single ones and closes small gaps. */
export function smoothed({ width, height, on }: Mask): Mask {
  const to = new Uint8Array(on.length);
  for (let y = 1; y < height - 1; y++)
    for (let x = 1; x < width - 1; x++) {
      const i = y * width + x;
      let count = 0;
      for (const row of [i - width, i, i + width])
        count += (on[row - 1] as number) + (on[row] as number) + (on[row + 1] as number);
      to[i] = count >= 5 ? 1 : 0;
    }
  return { width, height, on: to };
}

/** A connected part of a mask. */
export interface Region {
  /** Numbers of its px. */
  px: number[];
  touchesEdge: boolean;
}

/** Connected parts (by their sides) of px that are `value`, the largest first, each of at least so many px. */
export function regionsOf({ width, height, on }: Mask, value: 0 | 1, least: number): Region[] {
  const seen = new Uint8Array(on.length);
  const regions: Region[] = [];
  for (let start = 0; start < on.length; start++) {
    if (seen[start] === 1 || on[start] !== value) continue;
    const px = [start];
    seen[start] = 1;
    let touchesEdge = false;
    for (let next = 0; next < px.length; next++) {
      const i = px[next] as number;
      const x = i % width;
      const y = (i - x) / width;
      if (x === 0 || y === 0 || x === width - 1 || y === height - 1) touchesEdge = true;
      const take = (to: number) => {
        if (seen[to] === 1 || on[to] !== value) return;
        seen[to] = 1;
        px.push(to);
      };
      if (x > 0) take(i - 1);
      if (x < width - 1) take(i + 1);
      if (y > 0) take(i - width);
      if (y < height - 1) take(i + width);
    }
    if (px.length >= least) regions.push({ px, touchesEdge });
  }
  return regions.sort((a, b) => b.px.length - a.px.length);
}

/** Fills what lies within and is smaller than so many px. @returns how many px were filled */
export function fillHoles(mask: Mask, largest: number): number {
  let filled = 0;
  for (const { px, touchesEdge } of regionsOf(mask, 0, 1)) {
    if (touchesEdge || px.length > largest) continue;
    for (const i of px) mask.on[i] = 1;
    filled += px.length;
  }
  return filled;
}

/** The px of a mask that are at least so many px from its edge (by steps to the side). */
export function inner({ width, height, on }: Mask, steps: number): Mask {
  let from = on;
  for (let step = 0; step < steps; step++) {
    const to = new Uint8Array(from.length);
    for (let y = 1; y < height - 1; y++)
      for (let x = 1; x < width - 1; x++) {
        const i = y * width + x;
        const isInner = from[i] && from[i - 1] && from[i + 1] && from[i - width] && from[i + width];
        if (isInner) to[i] = 1;
      }
    from = to;
  }
  return { width, height, on: from };
}
