// SPDX-License-Identifier: Apache-2.0
// The parts of a job, fetched once and kept while one turns the leaves.
import { ask, get, jobPath } from '../api';
import { halves } from './half';
import type { Matrix } from './show';

/** A setting of the dials as the library weighs it: a weight for the ambient, then for each part. */
export interface PartsSetting { name?: string; weights: number[]; srgb_from_camera: Matrix; exposure_ratio: number }
export interface PartHead { light: string; emitter: number; url: string; per_full: number }
export interface PartsHead {
  width_px: number; height_px: number; parts: PartHead[]; ambient: { url: string }; srgb_from_camera: Matrix;
  white_level: number; settings: PartsSetting[];
}
type PartsSaid = PartsHead & { state: string; sentence?: string | null };

/** There are no parts, and the sentence says why. */
export class NoParts extends Error {}
export interface Parts { head: PartsHead; px: Uint16Array[] }

const cache = new Map<string, Promise<Parts>>();
const KEPT = 2;

async function fetchAll(job: string, came: (ratio: number) => void): Promise<Parts> {
  const head = await get<PartsSaid>(`${jobPath(job)}/parts`);
  if (head.state !== 'ready') throw new NoParts(head.sentence ?? '');
  const urls = [head.ambient.url, ...head.parts.map((part) => part.url)];
  const px: Uint16Array[] = [];
  for (const url of urls) {
    px.push(halves(await (await ask(url, undefined, 120000)).arrayBuffer()));
    came(px.length / urls.length);
  }
  const bytes = 4 * head.width_px * head.height_px;
  if (px.some((part) => part.length !== bytes)) throw new Error('a part has not the size it should have');
  return { head, px };
}

/** version: another one when the server has other answers. */
export function partsOf(job: string, version: string, came: (ratio: number) => void): Promise<Parts> {
  const name = `${job} ${version}`;
  let parts = cache.get(name);
  if (!parts) {
    parts = fetchAll(job, came);
    cache.set(name, parts);
    parts.catch(() => cache.delete(name));
    for (const old of cache.keys()) {
      if (cache.size <= KEPT) break;
      cache.delete(old);
    }
  }
  return parts;
}
