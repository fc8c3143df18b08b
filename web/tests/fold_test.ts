// SPDX-License-Identifier: Apache-2.0
import assert from 'node:assert/strict';
import { test } from 'node:test';
import type { JobState, Row } from '../src/api';
import { fold } from '../src/fold';
import { furthest, lifeOf, plateOn, shotNext, tapNext } from '../src/plates';
import { stateOf } from '../src/state';

const empty = (): JobState => stateOf({ rev: 0, now_ms: 0 });
let rev = 0;
const row = (what: string, subject: string, body: Record<string, unknown>, at_ms = 0): Row => ({
  rev: ++rev, key: null, at_ms, who: 'a', role: 'photographer', what, subject, body,
});
const folded = (rows: Row[]): JobState => rows.reduce(fold, empty());

test('a shot is laid over what was said of it before; an outlet takes its place', () => {
  const state = folded([
    row('shot', 'S1', { dish: 'broth', angle_deg: 30 }), row('shot', 'S1', { angle_deg: 45 }),
    row('outlet', 'Cover', { size_mm: [215, 280] }), row('outlet', 'Cover', { size_px: [10, 20] }),
  ]);
  assert.equal(state.shots.length, 1);
  assert.equal(state.shots[0]?.dish, 'broth');
  assert.equal(state.shots[0]?.angle_deg, 45);
  assert.deepEqual(state.outlets, [{ name: 'Cover', size_px: [10, 20] }]);
});

test('a frame keeps what was said of it when it is told again', () => {
  const state = folded([
    row('frame', 'f1', { name: 'a.dng', bytes: 5 }), row('role', 'f1', { role: 'light', light: 'P1' }),
    row('frame', 'f1', { bytes: 6 }),
  ]);
  assert.equal(state.frames.length, 1);
  assert.equal(state.frames[0]?.name, 'a.dng');
  assert.equal(state.frames[0]?.bytes, 6);
  assert.deepEqual(state.frames[0]?.role, { role: 'light', light: 'P1' });
});

test('taps that come late stand where they were made, and the furthest counts', () => {
  const state = folded([
    row('plate', 'p', { shot: 'S1', dish: 'broth', dish_class: 'foam' }),
    row('tap', 'p', { state: 'down', ago_ms: 0 }, 5000), row('tap', 'p', { state: 'called', ago_ms: 4000 }, 6000),
  ]);
  const plate = state.plates[0];
  assert.ok(plate);
  assert.deepEqual(plate.taps.map((tap) => [tap.state, tap.at_ms]), [['called', 2000], ['down', 5000]]);
  assert.equal(furthest(plate), 'down');
});

test('the state of the server becomes what the pages fold', () => {
  const state = stateOf({
    rev: 9, now_ms: 5, job: null, shots: [{ id: 'S1', dish: 'broth', angle_deg: null, rev: 1, at_ms: 2 }],
    outlets: [{ id: 'Cover', size_mm: [215, 280] }], frames: [{ id: 'f1', name: 'a.dng', at_ms: 7 }],
    roles: { f1: { role: 'take' } }, touches: { hero: { x_ratio: 0.1, y_ratio: 0.2 } }, dials: null,
    locked: { id: 'f1' }, plates: [{ id: 'p', dish: 'broth' }],
    taps: [{ rev: 8, plate: 'p', state: 'down', at_ms: 6, who: 'cook' }], verdicts: { f1: { tone: 'mend' } },
    choices: { f1: { this: true } },
  });
  assert.equal(state.outlets[0]?.name, 'Cover');
  assert.equal(state.frames[0]?.role?.role, 'take');
  assert.equal(state.touches[0]?.subject, 'hero');
  assert.equal(state.locked, 'f1');
  assert.equal(state.plates[0]?.taps[0]?.rev, 8);
  assert.equal(state.verdicts[0]?.frame, 'f1');
  assert.deepEqual(state.choices, [{ frame: 'f1', this: true, why: '' }]);
  assert.equal(stateOf({ rev: 1 }).frames.length, 0);
});

test('whose turn it is', () => {
  const at = (...states: string[]) =>
    folded([row('plate', 'p', {}), ...states.map((state, i) => row('tap', 'p', { state }, i))]).plates[0] ?? null;
  assert.equal(tapNext(null, 'photographer'), 'stand_in');
  assert.equal(tapNext(at('stand_in'), 'photographer'), 'called');
  assert.equal(tapNext(at('stand_in', 'called', 'down'), 'photographer'), 'have_it');
  assert.equal(tapNext(at('stand_in', 'called', 'down'), 'cook'), 'gone');
  assert.equal(tapNext(at('stand_in', 'called'), 'cook'), 'down');
  assert.equal(tapNext(at('stand_in', 'called', 'down', 'have_it', 'gone'), 'photographer'), null);
  assert.equal(tapNext(at('stand_in'), 'client'), null);
});

test('the plate that is on, and the shot that comes after it', () => {
  const state = folded([
    row('shot', 'S1', { dish: 'broth' }), row('shot', 'S2', { dish: 'hake' }),
    row('plate', 'a', { shot: 'S1' }), row('tap', 'a', { state: 'gone' }, 1),
    row('plate', 'b', { shot: 'S1' }), row('tap', 'b', { state: 'down' }, 2),
  ]);
  assert.equal(plateOn(state)?.id, 'b');
  assert.equal(shotNext(state)?.id, 'S2');
});

test('life runs from plate down, with the alarm in its last fifth', () => {
  const plate = folded([row('plate', 'p', {}), row('tap', 'p', { state: 'down' }, 10000)]).plates[0];
  assert.ok(plate);
  const clock = [{ plate: 'p', now: 'down', left_s: 90, life_s: 90, gone_at_ms: 100000, alarm: false }];
  assert.deepEqual(lifeOf(plate, clock, 55000), { left_s: 45, life_s: 90, ratio: 0.5, alarm: false });
  assert.equal(lifeOf(plate, clock, 82000)?.alarm, true);
  assert.equal(lifeOf(plate, clock, 200000)?.left_s, 0);
  assert.equal(lifeOf(plate, [], 55000), null);
});
