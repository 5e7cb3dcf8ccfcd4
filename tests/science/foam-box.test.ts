import { describe, expect, it } from 'vitest';
import { foamBoxDegC, foamBoxTimeConstantH, waterSurfaceCm2 } from '../../src/science/foam-box.ts';
import { driftTimeConstantH } from '../../src/science/heat-transfer.ts';

// "Insulating properties of styrofoam boxes used for transporting live fish": T = Ta + (T0 - Ta) exp(-t I Ws/Wv),
// Ws = 2 L W + 2 Wv/W + 2 Wv/L, I 0.11 for a wall of 2.5 cm and about 8 L (read in its abstract; hours as the unit of t
// inferred). Values below are worked out from that formula by hand for a box of 40 x 30 cm with 8 L, 25 into 5 degC.
const box = { lengthCm: 40, widthCm: 30, litres: 8 };

describe('a foam box', () => {
  it('has 2,400 cm2 above and below its water and 933 at its sides', () => {
    expect(waterSurfaceCm2(box)).toBeCloseTo(2400 + 533.33 + 400, 1);
    expect(foamBoxTimeConstantH(box)).toBeCloseTo(21.8, 1);
  });

  it.each([
    [0, 25],
    [6, 20.2],
    [12, 16.5],
    [18, 13.8],
    [24, 11.7],
    [48, 7.2],
  ])('has water of %s h at %s degC', (hours, degC) => {
    expect(foamBoxDegC(box, 25, 5, hours)).toBeCloseTo(degC, 1);
  });

  it('gives its insulation back by the formula that the abstract measures it with: I = Wv/Ws ln(dT begin/dT end)/t', () => {
    const end = foamBoxDegC(box, 25, 5, 18);
    expect((8000 / waterSurfaceCm2(box)) * (Math.log((25 - 5) / (end - 5)) / 18)).toBeCloseTo(0.11, 9);
  });

  it('passes 18 degC after 9.4 h', () => {
    expect(foamBoxDegC(box, 25, 5, 9.4)).toBeCloseTo(18, 1);
  });

  it('warms as it cools, and agrees with Newton’s law solved the other way', () => {
    expect(foamBoxDegC(box, 25, 35, 12)).toBeCloseTo(25 + (25 - foamBoxDegC(box, 25, 15, 12)), 9);
    const after = foamBoxDegC(box, 24, 8, 10);
    expect(driftTimeConstantH(24, after, 8, 10)).toBeCloseTo(foamBoxTimeConstantH(box), 6);
  });

  it('keeps more water warm for longer, and refuses what is no box', () => {
    expect(foamBoxDegC({ ...box, litres: 16 }, 25, 5, 24)).toBeGreaterThan(foamBoxDegC(box, 25, 5, 24));
    expect(() => foamBoxDegC({ ...box, litres: 0 }, 25, 5, 24)).toThrow('water');
    expect(() => foamBoxDegC(box, 25, 5, -1)).toThrow('time');
  });
});
