// SPDX-License-Identifier: Apache-2.0
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { test } from 'node:test';

test('the types of all pages and tests agree', () => {
  const tsc = process.env['PC_TSC'];
  assert.ok(tsc, 'PC_TSC names the compiler');
  const run = spawnSync(process.execPath, [tsc, '--noEmit'], { encoding: 'utf8' });
  assert.equal(run.status, 0, run.stdout + run.stderr);
});
