// Measures of a rack's drawing, px.

/** Height of a slot: a line for its figure, the plate of its lot, a line for a note. */
export const CELL_HEIGHT = 104;
/** Room for the row letters at the left and the column numbers at the top. */
export const AXIS_LEFT = 22;
export const AXIS_TOP = 22;
/** The plate with code and kind of a lot, within its slot; `padding` at both sides of its texts. */
export const PLATE = { inset: 2, top: 22, height: 38, padding: 2 } as const;
/** A code is set larger where there is room. */
export const CODE_SIZES = [13, 12] as const;
/** A code without room is set this much narrower at most: narrower letters are still read, a missing last column is not. */
export const SQUEEZE = 0.8;
/** Type size of figures and of the axes. */
export const FIGURE_SIZE = 12.5;
