// SPDX-License-Identifier: Apache-2.0
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { Refused, Unreached } from '../src/api';
import { bodyAsSent, Queue } from '../src/queue';
import type { Send, Unsent } from '../src/queue';

function queueOn(send: Send, shelf: { list: Unsent[] }, refusals: string[] = []): Queue {
  return new Queue({ load: () => shelf.list, save: (list) => void (shelf.list = list) }, send, () => undefined,
    () => undefined,
    (change, why) => void refusals.push(`${change.subject}: ${why.message}`), () => 1000);
}

test('what could not be sent stays, in order, with its key, and is sent when the laptop is back', async () => {
  const shelf = { list: [] as Unsent[] };
  const got: string[] = [];
  let there = false;
  const queue = queueOn((change) => {
    if (!there) return Promise.reject(new Unreached('gone'));
    got.push(change.key);
    return Promise.resolve(got.length);
  }, shelf);
  const keys = [queue.add('j', 'tap', 'p', { state: 'called' }), queue.add('j', 'tap', 'p', { state: 'down' })];
  assert.equal(await queue.flush(), false);
  assert.deepEqual(queue.waiting('j').map((change) => change.key), keys);
  there = true;
  assert.equal(await queue.flush(), true);
  assert.deepEqual(got, keys);
  assert.equal(queue.waiting('j').length, 0);
  assert.equal(queue.rev(keys[1] ?? ''), 2);
});

test('an answer that was lost makes the same key go out again', async () => {
  const shelf = { list: [] as Unsent[] };
  const got: string[] = [];
  const queue = queueOn((change) => {
    got.push(change.key);
    return got.length === 1 ? Promise.reject(new Unreached('cut')) : Promise.resolve(7);
  }, shelf);
  queue.add('j', 'dials', '', {});
  await queue.flush();
  await queue.flush();
  assert.equal(got.length, 2);
  assert.equal(got[0], got[1]);
});

test('what is refused is said and dropped; what waits for joining is kept', async () => {
  const shelf = { list: [] as Unsent[] };
  const refusals: string[] = [];
  let status = 422;
  const queue = queueOn(() => Promise.reject(new Refused(status, 'x', 'No such shot.')), shelf, refusals);
  queue.add('j', 'plate', 'p', {});
  assert.equal(await queue.flush(), true);
  assert.deepEqual(refusals, ['p: No such shot.']);
  assert.equal(shelf.list.length, 0);
  status = 401;
  queue.add('j', 'plate', 'q', {});
  await queue.flush();
  assert.equal(shelf.list.length, 1);
});

test('two pages of one device do not write over each other', async () => {
  const shelf = { list: [] as Unsent[] };
  const send: Send = () => Promise.resolve(1);
  const one = queueOn(send, shelf);
  const two = queueOn(send, shelf);
  one.add('j', 'tap', 'a', {});
  two.add('j', 'tap', 'b', {});
  assert.equal(shelf.list.length, 2);
  await one.flush();
  assert.equal(shelf.list.length, 0);
});

test('a tap says how long ago it was made', () => {
  const change = { job: 'j', key: 'k', subject: 'p', body: { state: 'down' }, made_ms: 4000 };
  assert.deepEqual(bodyAsSent({ ...change, what: 'tap' }, 9000), { state: 'down', ago_ms: 5000 });
  assert.deepEqual(bodyAsSent({ ...change, what: 'plate' }, 9000), { state: 'down' });
});
