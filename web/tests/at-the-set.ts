// SPDX-License-Identifier: Apache-2.0
// At the set: what is wrong here, a plate's life on two devices, the network lost, joining, uploads that fail, and
// every page looked at by axe-core on three screens.
import assert from 'node:assert/strict';
import { writeFileSync } from 'node:fs';
import path from 'node:path';
import { text } from '../src/text';
import type { Laptop } from './laptop';
import { axe, point, SIZES } from './stage';
import type { Size, Stage } from './stage';
import { touchAt } from './first-five';

const PAGES = ['intake', 'prep/S1', 'dials', 'pass', 'crops', 'lamps', 'cook', 'client', 'join'] as const;
const AS_SEEN_FROM: Record<Size, readonly string[]> = {
  phone: ['pass', 'cook', 'client', 'intake'], tablet: ['dials'], laptop: ['prep/S1', 'crops', 'lamps', 'join', '', 'intake'],
};

export async function atTheSet(stage: Stage, server: Laptop, job: string): Promise<void> {
  const say = (what: string, subject: string, body: Record<string, unknown>): void =>
    server.server.say(job, { what, subject, body });
  const base = `${server.url}/job/${job}/`;
  say('outlet', 'S1 cover', { size_mm: [215, 280], bleed_mm: 3, clear_top_pct: 22 });
  say('outlet', 'S2 spread', { size_mm: [430, 280], bleed_mm: 3, fold_at: 0.5, fold_clear_mm: 12 });
  say('outlet', 'S5 menu board', { size_px: [3840, 2160] });
  say('shot', 'S1', { dish: 'Smoked beetroot broth', look: 'dark', angle_deg: 30, dish_class: 'foam', outlets: ['S1 cover'] });
  say('shot', 'S5', { dish: 'Roast hake, brown butter', look: 'middle', angle_deg: 45, outlets: ['S5 menu board'] });

  await point('what is wrong here: a ring, one of four words, dial numbers before the picture', async () => {
    const { page, context, errors } = await stage.device('tablet');
    await page.goto(`${base}dials`);
    await page.locator('.wrong-here canvas').waitFor();
    await touchAt(page, 0.4, 0.6);
    await page.locator('.ring').waitFor();
    assert.deepEqual(await axe(page), []);
    await page.getByRole('button', { name: text.dials.words.darker }).click();
    await page.locator('.wrong-answer strong').waitFor();
    assert.match(await page.locator('.wrong-answer').innerText(), /P1 80 %.*hero −0\.2 EV/s);
    assert.equal(await page.locator('.ring').count(), 0);
    const heights = await page.locator('.dial-set').first().evaluate((cell) => {
      const pen = document.createElement('canvas').getContext('2d');
      const style = getComputedStyle(cell);
      if (!pen) return 0;
      pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
      return pen.measureText('8').actualBoundingBoxAscent;
    });
    // CSS has 96 pixels an inch; a digit stands 25 mm within half a millimetre.
    assert.ok(Math.abs(heights / (96 / 25.4) - 25) < 0.7, `digits are ${(heights / (96 / 25.4)).toFixed(1)} mm high`);
    assert.deepEqual(errors, []);
    await context.close();
  });

  await point('pictures weighed by WebGL and by arithmetic are the library’s, within 1/255', async () => {
    const { page, context } = await stage.device('laptop');
    for (const plain of [false, true]) {
      if (plain) await context.addInitScript(withoutWebGL);
      await page.goto(`${base}dials`);
      for (const way of ['airy', 'dark', 'middle'] as const) {
        await page.getByRole('button', { name: text.ways.show(text.ways.name(way)) }).click();
        await page.getByRole('img', { name: text.ways.picture(text.ways.name(way)) }).waitFor();
        await page.waitForTimeout(120);
        const shown = await page.locator('.three-ways canvas').evaluate(pixelsOf);
        const most = furthestApart(Buffer.from(shown, 'base64'), server.library(way));
        assert.ok(most <= 1, `${way} by ${plain ? 'arithmetic' : 'WebGL'} is ${most} off`);
      }
    }
    await context.close();
  });

  await point('a plate is called, put down, had and gone, on two phones', async () => {
    const chef = await stage.device('phone', { dpr: 2 });
    const cook = await stage.device('phone');
    await chef.page.goto(`${base}pass`);
    await cook.page.goto(`${base}cook`);
    const tap = (word: string) => chef.page.getByRole('button', { name: word, exact: true }).click();
    await tap(text.pass.taps.stand_in);
    await tap(text.pass.taps.called);
    await cook.page.getByText(text.cook.at.called('Smoked beetroot broth')).waitFor();
    await cook.page.getByRole('button', { name: text.pass.taps.down, exact: true }).click();
    await chef.page.getByRole('button', { name: text.pass.taps.have_it, exact: true }).waitFor();
    await chef.page.locator('.band-time', { hasText: /1:\d\d/ }).waitFor();
    const pad = await chef.page.locator('.pad-word').boundingBox();
    assert.ok(pad && pad.height >= (18 / 25.4) * 96 && pad.width >= 300, 'the pad is a knuckle wide');
    assert.ok(pad.y + pad.height <= SIZES.phone.height, 'the pad lies on the screen');
    await chef.page.reload();
    const cut = chef.page.locator('.hero-cut');
    await cut.locator('img').waitFor();
    const [hole, hero] = [await cut.boundingBox(), await cut.locator('img').boundingBox()];
    const natural = await cut.locator('img').evaluate((img: HTMLImageElement) => img.naturalWidth);
    assert.ok(hole && hero && Math.abs(hero.width * 2 - natural) < 1, 'one pixel of the frame on one of the screen');
    assert.ok(Math.abs(hero.x + hero.width / 2 - hole.x - hole.width / 2) < 1, 'the hero is in the middle');
    await tap(text.pass.taps.have_it);
    await chef.page.getByRole('button', { name: new RegExp(text.pass.takeBack) }).click();
    await chef.page.getByRole('button', { name: text.pass.taps.have_it, exact: true }).waitFor();
    await tap(text.pass.taps.have_it);
    await tap(text.pass.taps.gone);
    await cook.page.getByText(text.cook.standBy('Roast hake, brown butter')).waitFor();
    assert.deepEqual([...chef.errors, ...cook.errors], []);
    await chef.context.close();
    await cook.context.close();
  });

  await point('a tap without a network is kept, said, and sent when it is back', async () => {
    const phone = await stage.device('phone');
    const other = await stage.device('phone');
    await phone.page.goto(`${base}pass`);
    await other.page.goto(`${base}cook`);
    await phone.page.getByRole('button', { name: text.pass.taps.stand_in, exact: true }).waitFor();
    await phone.context.setOffline(true);
    await phone.page.getByText(text.net.lost).waitFor();
    await phone.page.getByRole('button', { name: text.pass.taps.stand_in, exact: true }).click();
    await phone.page.getByText(text.net.waiting(2)).waitFor();
    await phone.page.getByRole('button', { name: text.pass.taps.called, exact: true }).waitFor();
    await phone.context.setOffline(false);
    await other.page.getByText(text.cook.at.stand_in('Roast hake, brown butter')).waitFor();
    await phone.page.getByText(text.net.lost).waitFor({ state: 'detached' });
    await phone.context.close();
    await other.context.close();
  });

  await point('an upload that is cut off is said and sent again; what is no photograph is refused in a sentence', async () => {
    const { page, context } = await stage.device('laptop');
    await page.goto(`${base}intake`);
    const take = path.join(server.work, 'take 1.dng');
    writeFileSync(take, Buffer.concat([Buffer.from('II*\0'), Buffer.alloc(4e5, 7)]));
    // A browser tries again by itself where a connection was open before.
    server.server.cutting = true;
    await page.getByLabel(text.intake.choose).setInputFiles(take);
    await page.getByText(text.intake.cut('take 1.dng')).waitFor();
    server.server.cutting = false;
    await page.getByRole('rowheader', { name: 'take 1.dng' }).waitFor();
    const bad = path.join(server.work, '../../<img src=x onerror=alert(1)>.dng'.replace(/\.\.\/|\//g, '-'));
    writeFileSync(bad, 'MZ this is not light');
    await page.getByLabel(text.intake.choose).setInputFiles(bad);
    await page.locator('.wrong', { hasText: 'no photograph' }).waitFor();
    assert.equal(await page.locator('main img[src="x"]').count(), 0);
    await context.close();
  });

  await point('the client says this one or not, and why', async () => {
    const client = await stage.device('phone');
    const laptop = await stage.device('laptop');
    await client.page.goto(`${base}client`);
    await client.page.locator('.cut image').waitFor();
    await client.page.getByLabel(text.client.why).fill('More foam');
    const buttons = client.page.locator('.client-words button');
    const [one, two] = [await buttons.nth(0).boundingBox(), await buttons.nth(1).boundingBox()];
    assert.ok(one && two && Math.abs(one.width - two.width) < 2, 'the two words are equal');
    await buttons.nth(1).click();
    await client.page.getByText(text.client.said(false)).waitFor();
    await client.context.close();
    await laptop.context.close();
  });

  await point('each page, on three screens: nothing serious to axe-core, nothing wider than the screen', async () => {
    say('verdict', 'f7', { tone: 'mend', sentence: 'Front edge soft:', action: 'focus 12 mm nearer.', kind: 'focus' });
    const out = process.env['PC_PAGES'];
    for (const size of Object.keys(SIZES) as Size[]) {
      const { page, context, errors } = await stage.device(size, { reducedMotion: 'reduce' });
      for (const leaf of ['', ...PAGES]) {
        await page.goto(leaf === '' ? server.url : base + leaf);
        await page.locator('h1').first().waitFor({ state: 'attached' });
        await page.waitForTimeout(out ? 1500 : 120);
        assert.deepEqual(await axe(page), [], `${leaf || 'diary'} on the ${size}`);
        const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
        assert.ok(wide <= 0, `${leaf || 'diary'} is ${wide} pixels too wide on the ${size}`);
        if (out && AS_SEEN_FROM[size].includes(leaf)) {
          const name = `${(leaf || 'diary').replace(/\/.*/, '')}-${size}.png`;
          await page.screenshot({ path: path.join(out, name), fullPage: size !== 'phone' || leaf === 'intake' });
        }
      }
      assert.deepEqual(errors, []);
      await context.close();
    }
  });

  await point('PageDown turns the leaf at its end, and the keyboard reaches the foot', async () => {
    const { page, context } = await stage.device('laptop');
    await page.goto(`${base}lamps`);
    await page.getByRole('heading', { level: 1, name: text.pages.lamps }).waitFor();
    for (let i = 0; i < 4 && !page.url().endsWith('/cook'); i++) {
      await page.keyboard.press('PageDown');
      await page.waitForTimeout(200);
    }
    assert.ok(page.url().endsWith('/cook'), page.url());
    await context.close();
  });

  await point('a wrong PIN is said; the right one lets the cook in, to the cook’s page alone', async () => {
    server.server.requireJoin = true;
    const { page, context } = await stage.device('phone');
    await page.goto(`${base}pass`);
    await page.getByLabel(text.join.pin).fill('12');
    await page.getByRole('button', { name: text.join.join }).click();
    await page.getByText(text.join.pinShape).waitFor();
    await page.getByLabel(text.join.pin).fill('0000');
    await page.getByRole('button', { name: text.join.join }).click();
    await page.getByText('This is not the PIN').waitFor();
    assert.deepEqual(await axe(page), []);
    await page.getByLabel(text.join.pin).fill(server.server.pin);
    await page.getByLabel(text.join.cook).check();
    await page.getByRole('button', { name: text.join.join }).click();
    await page.getByRole('link', { name: 'Six plates and a broth' }).click();
    await page.waitForURL(/\/cook$/);
    await page.getByText(text.cook.now, { exact: true }).waitFor();
    assert.equal(await page.getByRole('link', { name: text.pages.dials }).count(), 0);
    server.server.requireJoin = false;
    await context.close();
  });
}

/** In the page: RGB of a canvas, in base 64. */
function pixelsOf(canvas: Element): string {
  const from = canvas as HTMLCanvasElement;
  const copy = document.createElement('canvas');
  copy.width = from.width;
  copy.height = from.height;
  const pen = copy.getContext('2d');
  pen?.drawImage(from, 0, 0);
  const data = pen?.getImageData(0, 0, copy.width, copy.height).data ?? [];
  let text = '';
  for (let i = 0; i < data.length; i++) if (i % 4 < 3) text += String.fromCharCode(data[i] ?? 0);
  return btoa(text);
}

/** In the page: a browser without WebGL. */
function withoutWebGL(): void {
  const get = HTMLCanvasElement.prototype.getContext as (this: HTMLCanvasElement, kind: string, o?: unknown) => unknown;
  HTMLCanvasElement.prototype.getContext = function (this: HTMLCanvasElement, kind: string, o?: unknown) {
    return kind === 'webgl2' ? null : get.call(this, kind, o);
  } as typeof HTMLCanvasElement.prototype.getContext;
}

function furthestApart(a: Buffer, b: Buffer): number {
  assert.equal(a.length, b.length);
  let most = 0;
  let brightest = 0;
  for (let i = 0; i < a.length; i++) {
    most = Math.max(most, Math.abs((a[i] ?? 0) - (b[i] ?? 0)));
    brightest = Math.max(brightest, b[i] ?? 0);
  }
  assert.ok(brightest > 60, 'the picture is not black');
  return most;
}
