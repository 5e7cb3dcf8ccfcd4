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
      for (let row = i - width; row <= i + width; row += width)
        count += (on[row - 1] as number) + (on[row] as number) + (on[row + 1] as number);
      to[i] = count >= 5 ? 1 : 0;
    }
  return { width, height, on: to };
}

/** A connected part of a mask. */
export interface Region {
  /** Numbers of its px. */
  px: Int32Array;
  touchesEdge: boolean;
}

/** Connected parts (by their sides) of px that are `value`, the largest first, each of at least so many px. */
export function regionsOf({ width, height, on }: Mask, value: 0 | 1, least: number): Region[] {
  const seen = new Uint8Array(on.length);
  // All px in the order in which they are reached: a part is a stretch of it.
  const reached = new Int32Array(on.length);
  let count = 0;
  const take = (to: number) => {
    if (seen[to] === 1 || on[to] !== value) return;
    seen[to] = 1;
    reached[count] = to;
    count++;
  };
  const regions: Region[] = [];
  for (let start = 0; start < on.length; start++) {
    if (seen[start] === 1 || on[start] !== value) continue;
    const begin = count;
    take(start);
    let touchesEdge = false;
    for (let next = begin; next < count; next++) {
      const i = reached[next] as number;
      const x = i % width;
      if (x === 0 || x === width - 1 || i < width || i >= on.length - width) touchesEdge = true;
      if (x > 0) take(i - 1);
      if (x < width - 1) take(i + 1);
      if (i >= width) take(i - width);
      if (i < width * (height - 1)) take(i + width);
    }
    if (count - begin >= least) regions.push({ px: reached.subarray(begin, count), touchesEdge });
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
