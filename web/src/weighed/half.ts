// SPDX-License-Identifier: Apache-2.0
// IEEE 754 binary16, as parts are sent.

let table: Float32Array | null = null;

function decode(bits: number): number {
  const sign = bits & 0x8000 ? -1 : 1;
  const exponent = (bits >> 10) & 0x1f;
  const fraction = bits & 0x3ff;
  if (exponent === 0) return sign * fraction * 2 ** -24;
  if (exponent === 31) return fraction ? NaN : sign * Infinity;
  return sign * (1 + fraction / 1024) * 2 ** (exponent - 15);
}

/** All 65536 of them: looking one up is quicker than reckoning it. */
export function halfTable(): Float32Array {
  if (!table) {
    table = new Float32Array(65536);
    for (let bits = 0; bits < 65536; bits++) table[bits] = decode(bits);
  }
  return table;
}

/** Little-endian bytes as they came, whatever this machine is. */
export function halves(buffer: ArrayBuffer): Uint16Array {
  const little = new Uint8Array(new Uint16Array([1]).buffer)[0] === 1;
  if (little) return new Uint16Array(buffer);
  const view = new DataView(buffer);
  return Uint16Array.from({ length: buffer.byteLength / 2 }, (_, i) => view.getUint16(2 * i, true));
}
