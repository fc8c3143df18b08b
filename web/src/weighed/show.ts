// SPDX-License-Identifier: Apache-2.0
// From camera colour to what a screen shows: the same steps as the library's own pictures.

export type Matrix = readonly (readonly number[])[];

export interface Setting {
  /** Of the ambient, then of each part: what it is multiplied by. */
  weights: readonly number[];
  /** Linear sRGB from camera colour, exposure included. */
  matrix: Matrix;
}

/** IEC 61966-2-1. */
export function srgbEncode(linear: number): number {
  const x = Math.min(1, Math.max(0, linear));
  return x <= 0.0031308 ? 12.92 * x : 1.055 * x ** (1 / 2.4) - 0.055;
}

export function times(matrix: Matrix, factor: number): number[][] {
  return matrix.map((row) => row.map((x) => factor * x));
}

const CODES = 4096;
let codes: Uint8ClampedArray | null = null;

function codeTable(): Uint8ClampedArray {
  if (!codes) {
    codes = new Uint8ClampedArray(CODES + 1);
    for (let i = 0; i <= CODES; i++) codes[i] = Math.round(255 * srgbEncode(i / CODES));
  }
  return codes;
}

/** By plain arithmetic: where there is no WebGL, and what the drawing by WebGL is held against. RGBA in and out. */
export function weighPlain(parts: readonly Uint16Array[], table: Float32Array, setting: Setting,
  out: Uint8ClampedArray): void {
  const code = codeTable();
  const m = setting.matrix.flat();
  const used = parts.map((px, i) => ({ px, weight: setting.weights[i] ?? 0 })).filter((part) => part.weight !== 0);
  for (let i = 0; i < out.length; i += 4) {
    let r = 0;
    let g = 0;
    let b = 0;
    let clipped = 0;
    for (const { px, weight } of used) {
      r += weight * (table[px[i] ?? 0] ?? 0);
      g += weight * (table[px[i + 1] ?? 0] ?? 0);
      b += weight * (table[px[i + 2] ?? 0] ?? 0);
      clipped += px[i + 3] ?? 0;
    }
    let red = (m[0] ?? 0) * r + (m[1] ?? 0) * g + (m[2] ?? 0) * b;
    let green = (m[3] ?? 0) * r + (m[4] ?? 0) * g + (m[5] ?? 0) * b;
    let blue = (m[6] ?? 0) * r + (m[7] ?? 0) * g + (m[8] ?? 0) * b;
    if (clipped !== 0) red = green = blue = Math.max(red, green, blue);
    out[i] = code[Math.round(CODES * Math.min(1, Math.max(0, red)))] ?? 0;
    out[i + 1] = code[Math.round(CODES * Math.min(1, Math.max(0, green)))] ?? 0;
    out[i + 2] = code[Math.round(CODES * Math.min(1, Math.max(0, blue)))] ?? 0;
    out[i + 3] = 255;
  }
}
