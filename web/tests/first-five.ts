// SPDX-License-Identifier: Apache-2.0
// The first five minutes, from an empty diary to foretold against actual.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import path from 'node:path';
import type { Page } from 'playwright-core';
import { text } from '../src/text';
import type { Laptop } from './laptop';
import { axe, point } from './stage';
import type { Stage } from './stage';

export async function firstFive(stage: Stage, server: Laptop): Promise<void> {
  const { page, errors } = await stage.device('laptop');
  const { lit } = server;

  await point('a job is written down in the diary, and opens at the frames', async () => {
    await page.goto(server.url);
    await page.getByLabel(text.diary.titleIs).fill('Six plates and a broth');
    await page.getByLabel(text.diary.clientIs).fill('Tidehouse Orrevik');
    await page.getByRole('button', { name: text.diary.write }).click();
    await page.getByRole('heading', { name: text.pages.intake, level: 1 }).waitFor();
    await page.getByText(text.intake.steps[0] ?? '').waitFor();
    assert.deepEqual(await axe(page), []);
  });

  await point('frames that are dropped are taken in, and what they are is said', async () => {
    await dropFiles(page, lit.slice(0, 1));
    await page.getByLabel(text.intake.choose).setInputFiles(lit.slice(1));
    await page.getByText(new RegExp(`^${lit.length} frames:.*P1`)).waitFor();
    assert.deepEqual(await axe(page), []);
  });

  await point('the hero is touched with the finger, the surface by keyboard', async () => {
    await page.getByRole('heading', { name: text.intake.touch.hero }).waitFor();
    const picture = page.getByRole('application');
    await picture.locator('img').evaluate((img: HTMLImageElement) => img.decode());
    await touchAt(page, 0.5, 0.39);
    await page.getByRole('heading', { name: text.intake.touch.surface }).waitFor();
    await picture.focus();
    for (let i = 0; i < 5; i++) await page.keyboard.press('Shift+ArrowDown');
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: text.intake.touch.greycard }).waitFor();
    await touchAt(page, 0.107, 0.626);
    await page.getByRole('heading', { name: text.intake.touched }).waitFor();
  });

  await point('the answers come, with what they are worth', async () => {
    await page.getByRole('link', { name: text.intake.toPrep }).click({ timeout: 30000 });
    await page.getByRole('heading', { name: text.prep.ingredients }).waitFor();
    const row = page.getByRole('row', { name: /P1/ }).first();
    assert.match(await row.innerText(), /\d+(\.\d+)? ± \d/);
    await page.getByText(/is the key/).waitFor();
    await page.locator('canvas').waitFor();
    assert.deepEqual(await axe(page), []);
  });

  await point('one of three ways is set, and stands in the table', async () => {
    await page.getByRole('link', { name: text.pages.dials }).first().click();
    await page.getByRole('heading', { name: text.ways.title }).waitFor();
    await page.getByRole('button', { name: text.ways.take }).click();
    await page.getByRole('button', { name: text.dials.areSet }).click();
    await page.getByRole('button', { name: text.dials.areSet }).waitFor({ state: 'detached' });
    const [is, set] = await page.locator('.dial-table tbody tr').first().locator('td').allInnerTexts();
    assert.equal(parseFloat(is ?? ''), parseFloat(set ?? 'x'));
    assert.deepEqual(await axe(page), []);
  });

  await point('one more frame is held against what was foretold', async () => {
    await page.getByRole('link', { name: text.pages.intake }).first().click();
    await page.getByLabel(text.intake.choose).setInputFiles(server.closing);
    const name = path.basename(server.closing);
    await page.getByLabel(text.intake.roleOf(name)).selectOption('closing');
    await page.getByRole('link', { name: text.pages.prep('') }).first().click();
    await page.getByRole('columnheader', { name: text.closing.foretold }).waitFor({ timeout: 30000 });
    const hero = page.locator('.closing').getByRole('row', { name: /the hero/ });
    assert.match(await hero.innerText(), /EV\s+[−\d]/);
  });

  await point('nothing broke on the way', async () => {
    assert.deepEqual(errors, []);
  });
  await page.context().close();
}

export async function touchAt(page: Page, x: number, y: number): Promise<void> {
  const box = await page.getByRole('application').boundingBox();
  if (!box) throw new Error('there is no picture to touch');
  await page.getByRole('application').click({ position: { x: x * box.width, y: y * box.height } });
}

/** As a hand drops them: the page gets the files by a drop event. */
export async function dropFiles(page: Page, paths: readonly string[]): Promise<void> {
  for (const file of paths) {
    const data = readFileSync(file).toString('base64');
    await page.evaluate(({ data, name }) => {
      const bytes = Uint8Array.from(atob(data), (c) => c.charCodeAt(0));
      const transfer = new DataTransfer();
      transfer.items.add(new File([bytes], name));
      for (const kind of ['dragover', 'drop'])
        document.body.dispatchEvent(new DragEvent(kind, { bubbles: true, cancelable: true, dataTransfer: transfer }));
    }, { data, name: path.basename(file) });
  }
}
