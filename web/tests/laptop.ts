// SPDX-License-Identifier: Apache-2.0
// The laptop of the tests: frames of a made job, what the program says of their light, and a server for the pages.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import type { Answer } from '../src/weigh';
import type { PartsHead } from '../src/weighed/parts';
import { standIn } from './stand-in';
import type { StandIn } from './stand-in';

export interface Laptop {
  url: string; work: string; lit: string[]; closing: string; server: StandIn;
  /** The library's own picture of a setting, 8 bits a channel. */
  library: (name: string) => Buffer;
  stop: () => Promise<void>;
}

interface Truth { frames: { places: Record<string, { x_px: number; y_px: number }> }[] }

const need = (name: string): string => {
  const value = process.env[name];
  if (!value) throw new Error(`${name} is not set`);
  return value;
};

export async function laptop(): Promise<Laptop> {
  const build = need('PC_BUILD_ROOT');
  const source = need('PC_SOURCE_ROOT');
  const work = mkdtempSync(path.join(tmpdir(), 'platecall-laptop-'));
  const all = path.join(work, 'all');
  execFileSync(path.join(build, 'tests/sim/platecall-sim'), [all, '--size', process.env['PC_PAGES'] ? '2304x1536' : '768x512', '--actual', '0.5'],
    { stdio: ['ignore', 'ignore', 'inherit'] });
  const frames = readdirSync(all).filter((name) => name.endsWith('.dng')).sort().map((name) => path.join(all, name));
  const closing = frames[frames.length - 1] ?? '';
  const lit = frames.slice(0, -1);
  const truth = JSON.parse(readFileSync(path.join(all, 'truth.json'), 'utf8')) as Truth;
  const places = truth.frames[0]?.places ?? {};
  const at = (name: string): string[] => {
    const place = places[name];
    return place ? [`--${name}`, `${place.x_px.toFixed(0)},${place.y_px.toFixed(0)}`] : [];
  };
  const said = execFileSync(path.join(build, 'src/front/cli/platecall'),
    ['weigh', ...lit, ...at('hero'), ...at('surface'), ...at('greycard'), '--json', '--actual', closing,
      '--out', path.join(work, 'out')],
    { encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] });
  const parts = path.join(work, 'parts');
  execFileSync(path.join(build, 'tests/make-parts'), [parts, at('hero')[1] ?? '', at('surface')[1] ?? '', ...lit]);
  const head = JSON.parse(readFileSync(path.join(parts, 'parts.json'), 'utf8')) as PartsHead;
  const px = [0, ...head.parts.keys()].map((_, n) => readFileSync(path.join(parts, `parts-${n}.f16`)));
  const server = await standIn(path.join(source, 'web/dist'), {
    weighed: JSON.parse(said) as Answer, parts: { head, px }, view: readFileSync(path.join(work, 'out/middle.jpg')),
    residual: readFileSync(path.join(work, 'out/residual.png')), section: readFileSync(path.join(source, 'docs/section.svg')),
  });
  return {
    url: server.url, work, lit, closing, server, library: (name) => readFileSync(path.join(parts, `${name}.rgb`)),
    stop: async () => {
      await server.stop();
      rmSync(work, { recursive: true, force: true });
    },
  };
}
