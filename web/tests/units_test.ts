// SPDX-License-Identifier: Apache-2.0
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as units from '../src/units';

test('dials are whole per cent, tenths below ten', () => {
  assert.deepEqual([0, 0.004, 0.08, 0.0996, 0.334, 1].map(units.dial), ['0', '0.4', '8.0', '10', '33', '100']);
});

test('a figure stops where its tolerance does', () => {
  assert.equal(units.within(46.21, 2.2, '%'), '46 ± 2 %');
  assert.equal(units.within(8.68, 0.71, '%'), '8.7 ± 0.7 %');
  assert.equal(units.within(15.41, 1.24, '%'), '15.4 ± 1.2 %');
  assert.equal(units.within(6912, 1580, 'lx'), '6900 ± 1600 lx');
  assert.equal(units.within(-0.218, 0.14, 'stops', true), '−0.22 ± 0.14 stops');
  assert.equal(units.within(3.2, null, 'stops'), '3.2 stops');
});

test('time left shortens to seconds in the last minute', () => {
  assert.deepEqual([84, 60, 59.2, 3.4, 0, -5].map(units.timeLeft), ['1:24', '1:00', '1:00', '4 s', '0 s', '0 s']);
});

test('lengths in centimetres or inches', () => {
  assert.equal(units.length(1140, 'metric'), '114 cm');
  assert.equal(units.length(95, 'metric'), '95 mm');
  assert.equal(units.length(254, 'inch'), '10 in');
  assert.equal(units.pageSize([215, 280], 'metric'), '215 × 280 mm');
});

test('a day is written out, and what is none stays', () => {
  assert.equal(units.day('2027-03-18'), '18 March 2027');
  assert.equal(units.day('2027-13-18'), '2027-13-18');
});

test('shutters as a camera writes them', () => {
  assert.deepEqual([0.005, 1 / 60, 0.5, 2].map(units.shutter), ['1/200 s', '1/60 s', '0.5 s', '2 s']);
});
