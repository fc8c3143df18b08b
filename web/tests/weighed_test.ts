// SPDX-License-Identifier: Apache-2.0
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { halfTable } from '../src/weighed/half';
import { srgbEncode, weighPlain } from '../src/weighed/show';

test('half floats: values of IEEE 754-2008, table 3.5 and its limits', () => {
  const table = halfTable();
  assert.equal(table[0x3c00], 1);
  assert.equal(table[0xc000], -2);
  assert.equal(table[0x7bff], 65504);
  assert.equal(table[0x0001], 2 ** -24);
  assert.equal(table[0x0400], 2 ** -14);
  assert.ok(Math.abs((table[0x3555] ?? 0) - 1 / 3) < 1e-4);
  assert.equal(table[0x7c00], Infinity);
  assert.ok(Number.isNaN(table[0x7e00]));
});

test('the display curve meets itself and its ends (IEC 61966-2-1)', () => {
  assert.equal(srgbEncode(0), 0);
  assert.ok(Math.abs(srgbEncode(1) - 1) < 1e-12);
  assert.ok(Math.abs(srgbEncode(0.0031308) - srgbEncode(0.0031309)) < 1e-5);
  assert.ok(Math.abs(srgbEncode(0.18) - 0.4613561) < 1e-6);
});

test('light adds up, and what clipped is neutral', () => {
  const half = (x: number): number => halfTable().indexOf(x);
  const part = Uint16Array.from([half(0.25), half(0.5), 0, 0, half(0.5), 0, 0, half(1)]);
  const out = new Uint8ClampedArray(8);
  const matrix = [[1, 0, 0], [0, 1, 0], [0, 0, 1]];
  weighPlain([part, part], halfTable(), { weights: [1, 1], matrix }, out);
  const code = (x: number): number => Math.round(255 * srgbEncode(x));
  assert.deepEqual([...out], [code(0.5), 255, 0, 255, 255, 255, 255, 255]);
  weighPlain([part, part], halfTable(), { weights: [0, 0.5], matrix }, out);
  assert.deepEqual([...out.slice(0, 4)], [code(0.125), code(0.25), 0, 255]);
});
