// SPDX-License-Identifier: Apache-2.0
// What the browser tests stand on: one Chromium, devices of three sizes, points in TAP, and axe-core.
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { chromium } from 'playwright-core';
import type { Browser, BrowserContext, Page } from 'playwright-core';

export const SIZES = {
  phone: { width: 390, height: 844 }, tablet: { width: 1024, height: 768 }, laptop: { width: 1440, height: 900 },
} as const;
export type Size = keyof typeof SIZES;

const FLAGS = [
  '--headless', '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
  '--disable-component-update', '--disable-sync',
];
const POINT_MS = process.env['PC_PAGES'] ? 180000 : 40000;

export interface Device { page: Page; context: BrowserContext; errors: string[] }

/** The page whose picture is taken when a point fails, where PC_SHOTS names a folder. */
let look: Page | null = null;
let points = 0;
let failed = 0;

/** One point; what it throws is why it failed. The others go on. */
export async function point(name: string, run: () => Promise<void>): Promise<void> {
  points++;
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<never>((_, reject) => {
    timer = setTimeout(() => reject(new Error(`not done after ${POINT_MS / 1000} s`)), POINT_MS);
  });
  const since = Date.now();
  try {
    await Promise.race([run(), late]);
    console.log(`ok ${points} - ${name} # ${((Date.now() - since) / 1000).toFixed(1)} s`);
  } catch (error) {
    failed++;
    await look?.screenshot({ path: path.join(process.env['PC_SHOTS'] ?? '.', `failed-${points}.png`) }).catch(() => undefined);
    console.log(`not ok ${points} - ${name}`);
    const why = error instanceof Error ? (error.stack ?? error.message) : String(error);
    console.log(why.replace(/\x1b\[\d+m/g, '').split('\n').slice(0, 14).map((line) => `# ${line}`).join('\n'));
  } finally {
    clearTimeout(timer);
  }
}

export function plan(): number {
  console.log(`1..${points}`);
  return failed;
}

export class Stage {
  private readonly profile = mkdtempSync(path.join(tmpdir(), 'platecall-pages-'));
  private browser: Browser | null = null;

  async open(): Promise<void> {
    this.browser = await chromium.launch({
      executablePath: process.env['PC_CHROMIUM'] ?? '/usr/bin/chromium', args: FLAGS,
      env: { ...process.env, HOME: this.profile, XDG_CONFIG_HOME: this.profile, XDG_CACHE_HOME: this.profile },
    });
  }

  async close(): Promise<void> {
    await this.browser?.close();
    rmSync(this.profile, { recursive: true, force: true });
  }

  /** A device of its own: nothing is shared with the others but the laptop. */
  async device(size: Size, more: { dpr?: number; reducedMotion?: 'reduce' } = {}): Promise<Device> {
    if (!this.browser) throw new Error('the stage is not open');
    const context = await this.browser.newContext({
      viewport: SIZES[size], deviceScaleFactor: more.dpr ?? 1, hasTouch: size !== 'laptop', locale: 'en-GB',
      reducedMotion: more.reducedMotion ?? null,
    });
    context.setDefaultTimeout(15000);
    const page = await context.newPage();
    if (process.env['PC_SHOTS']) look = page;
    const errors: string[] = [];
    page.on('pageerror', (error) => errors.push(error.message));
    page.on('console', (message) => {
      if (/content security policy/i.test(message.text())) errors.push(message.text());
    });
    return { page, context, errors };
  }
}

const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

interface AxeFinding { id: string; impact: string | null; help: string; nodes: { html: string }[] }

/** Findings that WCAG 2.2 AA would call serious or worse. */
export async function axe(page: Page): Promise<string[]> {
  await page.evaluate(axeSource);
  const findings = await page.evaluate(async () => {
    const run = (window as unknown as { axe: { run: (d: Document, o: object) => Promise<{ violations: unknown[] }> } }).axe;
    const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];
    return (await run.run(document, { runOnly: tags })).violations;
  });
  return (findings as AxeFinding[])
    .filter((finding) => finding.impact === 'serious' || finding.impact === 'critical')
    .map((finding) => `${finding.id}: ${finding.help}: ${finding.nodes.map((node) => node.html).join(' ').slice(0, 300)}`);
}
