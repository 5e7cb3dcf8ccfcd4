import bwip from 'bwip-js';

/** A QR code (ISO/IEC 18004) of a text as SVG. */
export const qrCode = (text: string): string => bwip.toSVG({ bcid: 'qrcode', text });
