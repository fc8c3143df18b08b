// SPDX-License-Identifier: Apache-2.0
// The pages in a real browser, on a job that is made for it.
import { atTheSet } from './at-the-set';
import { laptop } from './laptop';
import { firstFive } from './first-five';
import { plan, Stage } from './stage';

const stage = new Stage();
const server = await laptop();
try {
  await stage.open();
  await firstFive(stage, server);
  await atTheSet(stage, server, 'job-1');
} finally {
  await stage.close();
  await server.stop();
}
process.exitCode = plan() > 0 ? 1 : 0;
