// SPDX-License-Identifier: Apache-2.0
// Stands in for the server, so that the pages can be tested by themselves: jobs in memory, changes folded and told to
// every screen, frames taken in by their first bytes. What it says of the light comes from the program's own weigh.
import { randomBytes } from 'node:crypto';
import { existsSync, readFileSync, statSync } from 'node:fs';
import { createServer } from 'node:http';
import type { IncomingMessage, ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import path from 'node:path';
import type { JobState, Role, Row } from '../src/api';
import { fold } from '../src/fold';
import { stateOf } from '../src/state';
import type { Answer } from '../src/weigh';
import type { PartsHead } from '../src/weighed/parts';

const POLICY = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; " +
  "connect-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";
const PIN = '4827';
const LIFE_S = 90;
const FRAME = [1500, 1000] as const;
const KINDS: Record<string, string> = {
  '.html': 'text/html; charset=utf-8', '.js': 'text/javascript', '.css': 'text/css', '.woff2': 'font/woff2',
  '.svg': 'image/svg+xml',
};

interface Job { state: JobState; log: Row[]; screens: Set<ServerResponse>; blank: JobState }
interface Device { id: string; name: string; role: Role }
export interface StandIn {
  url: string; pin: string; requireJoin: boolean; cutting: boolean; say: (job: string, row: Partial<Row>) => void;
  stop: () => Promise<void>;
}

export interface Made {
  weighed: Answer;
  /** As the library gives them to a browser. */
  parts: { head: PartsHead; px: Buffer[] };
  view: Buffer; residual: Buffer; section: Buffer;
}

export async function standIn(dist: string, made: Made): Promise<StandIn> {
  const jobs = new Map<string, Job>();
  const devices = new Map<string, Device>();
  const { weighed, view, residual, section } = made;
  const names = weighed.lights.map((light) => light.name);

  const append = (job: Job, wish: Partial<Row>): number => {
    const before = wish.key ? job.log.find((row) => row.key === wish.key) : undefined;
    if (before) return before.rev ?? 0;
    const row: Row = {
      rev: job.log.length + 1, key: null, at_ms: Date.now(), who: 'laptop', role: 'photographer', what: '', subject: '',
      body: {}, ...wish,
    };
    job.log.push(row);
    const gone = new Set(job.log.filter((one) => one.what === 'undo').map((one) => one.body['rev']));
    job.state = job.log.filter((one) => !gone.has(one.rev)).reduce(fold, job.blank);
    job.state = { ...job.state, rev: row.rev ?? 0 };
    for (const screen of job.screens) screen.write(`id: ${row.rev}\nevent: change\ndata: ${JSON.stringify(row)}\n\n`);
    return row.rev ?? 0;
  };
  const raw = (job: Job): unknown => ({
    ...job.state, now_ms: Date.now(), outlets: job.state.outlets.map((one) => ({ ...one, id: one.name })),
    roles: Object.fromEntries(job.state.frames.map((frame) => [frame.id, frame.role])),
    touches: Object.fromEntries(job.state.touches.map((one) => [one.subject, one])),
    verdicts: Object.fromEntries(job.state.verdicts.map((one) => [one.frame, one])),
    choices: Object.fromEntries(job.state.choices.map((one) => [one.frame, one])),
    locked: job.state.locked ? { id: job.state.locked } : null,
    taps: job.state.plates.flatMap((plate) => plate.taps.map((tap) => ({ ...tap, plate: plate.id }))),
  });
  const weigh = (job: Job): unknown => {
    const touched = (subject: string): boolean => job.state.touches.some((one) => one.subject === subject);
    if (job.state.frames.length === 0) return { state: 'needs', sentence: 'No frame has come in yet.' };
    if (!touched('hero') || !touched('surface'))
      return { state: 'needs', sentence: 'Touch the hero and the surface, and the light is measured.' };
    const { actual, closing, ...rest } = weighed;
    const checked = job.state.frames.some((frame) => frame.role?.role === 'closing');
    return { state: 'ready', sentence: null, answer: checked ? { ...rest, actual, closing } : rest };
  };
  const takeIn = (job: Job, name: string, bytes: Buffer): [number, unknown] => {
    // A TIFF header, as every DNG has.
    if (bytes.subarray(0, 4).toString('latin1') !== 'II*\0')
      return [422, { error: { place: name, text: `${name} is no photograph. Bring the camera's raw files.` } }];
    const id = `f${job.state.frames.length + 1}`;
    append(job, { what: 'frame', subject: id, body: { name, bytes: bytes.length, from: 'upload', device: 'laptop' } });
    const light = /P\d/.exec(name)?.[0];
    const role = /window/.test(name) ? { role: 'ambient' } : light ? { role: 'light', light } : { role: 'take' };
    append(job, { what: 'role', subject: id, body: role });
    return [201, { frame: id }];
  };

  const self: StandIn = {
    url: '', pin: PIN, requireJoin: false, cutting: false,
    say: (id, row) => {
      const job = jobs.get(id);
      if (job) append(job, { role: 'photographer', ...row });
    },
    stop: () => new Promise((resolve) => {
      server.closeAllConnections();
      server.close(() => resolve());
    }),
  };
  const deviceOf = (request: IncomingMessage): Device | null =>
    devices.get(/token=([0-9a-f]+)/.exec(request.headers.cookie ?? '')?.[1] ?? '') ?? null;

  const forJob = (job: Job, rest: string, request: IncomingMessage, body: Buffer, response: ServerResponse):
    [number, unknown] | null => {
    const at = `/api/jobs/${[...jobs].find(([, one]) => one === job)?.[0] ?? ''}`;
    if (rest === '') return [200, raw(job)];
    if (rest === '/events') {
      response.writeHead(200, { 'Content-Type': 'text/event-stream' });
      response.write(': here\n\n');
      job.screens.add(response);
      response.on('close', () => job.screens.delete(response));
      return null;
    }
    if (rest === '/changes') return [200, { rev: append(job, JSON.parse(body.toString()) as Partial<Row>) }];
    if (rest.startsWith('/inbox/') && request.method === 'PUT') return takeIn(job, rest.slice(7), body);
    if (rest === '/weigh') return [200, weigh(job)];
    if (rest === '/want') {
      const dials = Object.fromEntries(names.map((name, i) => [name, 0.8 - 0.1 * i]));
      const goal = { goal: 'place_ev', place: 'here', wanted: -0.33, reached: -0.33, miss_ev: 0, why_not: null };
      const changes = [{ place: 'hero', change_ev: -0.2, change_mired: 0 }];
      const setting = made.parts.head.settings.find((one) => one.name === 'dark');
      return [200, { state: 'ready', dials, kelvins_K: {}, dials_light_tolerance_pct: 15, goals: [goal], changes, setting }];
    }
    if (rest === '/parts') {
      const { head } = made.parts;
      const url = (one: { url: string }): string => `${at}/${one.url}`;
      return [200, { ...head, state: 'ready', ambient: { url: url(head.ambient) },
        parts: head.parts.map((part) => ({ ...part, url: url(part) })) }];
    }
    const wanted = /^\/parts\/(\d+)\.f16$/.exec(rest);
    if (wanted) return [200, made.parts.px[Number(wanted[1])]];
    if (rest === '/clock') {
      const line = (plate: { id: string }): unknown => ({ plate: plate.id, now: null, left_s: null, life_s: LIFE_S,
        gone_at_ms: null, alarm: false });
      return [200, { plates: job.state.plates.map(line) }];
    }
    if (rest === '/crops') {
      const crops = job.state.outlets.map((outlet) => {
        const [w = 1, h = 1] = outlet.size_mm ?? outlet.size_px ?? [];
        const shape = w / h;
        const size = shape > 1.5 ? [FRAME[0], Math.round(FRAME[0] / shape)] : [Math.round(FRAME[1] * shape), FRAME[1]];
        const at_px = [0, 1].map((i) => Math.round(((FRAME[i] ?? 0) - (size[i] ?? 0)) / 2));
        const sentence = `${outlet.name}: ${size.join(' x ')} px${outlet.size_mm ? ' at 412 ppi' : ''}`;
        return { outlet: outlet.name, fits: true, sentence, at_px, size_px: size, reached_ppi: outlet.size_mm ? 412 : null };
      });
      return [200, { frame_px: FRAME, crops, all_fit: true, step_back_pct: null, sentence: '' }];
    }
    if (/\/(view|hero)\.jpg$/.test(rest)) {
      response.writeHead(200, { 'Content-Type': 'image/jpeg' });
      response.end(view);
      return null;
    }
    if (rest === '/residual.jpg') {
      response.writeHead(200, { 'Content-Type': 'image/png' });
      response.end(residual);
      return null;
    }
    if (rest === '/section.svg') {
      response.writeHead(200, { 'Content-Type': 'image/svg+xml' });
      response.end(section);
      return null;
    }
    return [404, { error: { place: rest, text: 'There is no such thing here.' } }];
  };

  const answer = (request: IncomingMessage, response: ServerResponse, body: Buffer): [number, unknown] | null => {
    const where = decodeURIComponent(new URL(request.url ?? '/', 'http://laptop').pathname);
    const device = deviceOf(request);
    const role = self.requireJoin ? (device?.role ?? null) : 'photographer';
    if (where === '/api/me') return [200, { role, name: device?.name ?? null, lan: true, version: '0' }];
    if (where === '/api/join') {
      const { pin, name, role: as } = JSON.parse(body.toString()) as { pin: string; name: string; role: Role };
      if (pin !== PIN) return [403, { error: { place: 'pin', text: 'This is not the PIN that the laptop shows.' } }];
      const token = randomBytes(16).toString('hex');
      devices.set(token, { id: String(devices.size + 1), name, role: as });
      response.setHeader('Set-Cookie', `token=${token}; HttpOnly; SameSite=Strict; Path=/`);
      return [200, {}];
    }
    if (where.startsWith('/api/') && role === null)
      return [401, { error: { place: '', text: 'This device has not joined.' } }];
    if (where === '/api/join/code') return [200, { url: `${self.url}/join`, pin: PIN }];
    if (where === '/api/join/code.svg') {
      response.writeHead(200, { 'Content-Type': 'image/svg+xml' });
      response.end('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path d="M1 1h3v3H1zM5 1h3v3H5zM1 5h3v3H1zM6 6h1v1H6z"/></svg>');
      return null;
    }
    if (where === '/api/devices') return [200, { devices: [...devices.values()].map((one) => ({ ...one, this: one === device })) }];
    if (where === '/api/jobs' && request.method === 'POST') {
      const blank = stateOf({ job: JSON.parse(body.toString()) as object });
      const id = `job-${jobs.size + 1}`;
      jobs.set(id, { state: blank, log: [], screens: new Set(), blank });
      return [201, { id }];
    }
    if (where === '/api/jobs')
      return [200, { jobs: [...jobs].map(([id, job]) => ({ id, ...job.state.job, frames: job.state.frames.length })) }];
    const [, id, rest] = /^\/api\/jobs\/([^/]+)(.*)$/.exec(where) ?? [];
    const job = jobs.get(id ?? '');
    if (job) return forJob(job, rest ?? '', request, body, response);
    if (where.startsWith('/api/')) return [404, { error: { place: where, text: 'There is no such job.' } }];
    const file = path.join(dist, where);
    const shown = file.startsWith(dist) && existsSync(file) && statSync(file).isFile() ? file : path.join(dist, 'index.html');
    response.writeHead(200, {
      'Content-Type': KINDS[path.extname(shown)] ?? 'application/octet-stream', 'Content-Security-Policy': POLICY,
    });
    response.end(readFileSync(shown));
    return null;
  };

  const server = createServer((request, response) => {
    if (self.cutting && request.method === 'PUT') {
      request.once('data', () => request.socket.destroy());
      return;
    }
    const body: Buffer[] = [];
    request.on('data', (piece: Buffer) => body.push(piece));
    request.on('end', () => {
      const said = answer(request, response, Buffer.concat(body));
      if (!said) return;
      const bytes = Buffer.isBuffer(said[1]);
      response.writeHead(said[0], { 'Content-Type': bytes ? 'application/octet-stream' : 'application/json' });
      response.end(bytes ? said[1] : JSON.stringify(said[1]));
    });
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  self.url = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
  return self;
}
