// SPDX-License-Identifier: Apache-2.0
// What the server is asked and what it answers; docs/openapi.json is the full text.

export type Role = 'photographer' | 'cook' | 'client';
export interface Me { role: Role | null; name: string | null; lan: boolean; version: string }
export interface Device { id: string; name: string; role: Role; seen_ms: number | null; this: boolean }
export interface DiaryLine { id: string; title: string; client: string; date: string; place: string; frames: number }

export interface Job { title: string; client: string; date: string; place: string }
export interface Shot {
  id: string; dish: string; look: string | null; angle_deg: number | null; dish_class: string; outlets: string[];
  tallest_mm: number | null;
}
export interface Outlet {
  name: string; size_mm?: number[]; size_px?: number[]; bleed_mm?: number; fold_at?: number; fold_clear_mm?: number;
  clear_top_pct?: number; needed_ppi?: number;
}
export type RoleName = 'ambient' | 'light' | 'flash' | 'take' | 'closing' | 'aside';
export interface FrameRole {
  role: RoleName; light?: string | null; dial_ratio?: number | null; kelvin_K?: number | null; shot?: string | null;
}
export interface Frame {
  id: string; name: string; bytes: number; from: string; device: string; at_ms: number; taken_ms: number | null;
  role: FrameRole | null;
}
export type TouchName = 'hero' | 'surface' | 'greycard' | 'sauce' | 'rim' | 'front';
export interface Touch { subject: TouchName; x_ratio: number; y_ratio: number; radius_ratio: number; shot: string | null }
export interface Dials {
  dials: Record<string, number>; kelvins_K: Record<string, number>; shutter_s: number | null; why: string | null;
  at_ms: number;
}
export type TapState = 'stand_in' | 'called' | 'down' | 'have_it' | 'gone';
export interface Tap { state: TapState; at_ms: number; rev: number | null; key: string | null }
export interface Plate { id: string; shot: string | null; dish: string; dish_class: string; taps: Tap[] }
export interface Verdict {
  frame: string; tone: 'shoot_on' | 'mend' | 'wait'; sentence: string; action: string | null; value: number | null;
  tolerance: number | null; unit: string | null; x_ratio: number | null; y_ratio: number | null; kind: string | null;
}
export interface Choice { frame: string; this: boolean; why: string }

export interface JobState {
  rev: number; now_ms: number; job: Job; shots: Shot[]; outlets: Outlet[]; frames: Frame[]; touches: Touch[];
  dials: Dials | null; locked: string | null; plates: Plate[]; choices: Choice[]; verdicts: Verdict[];
}

export interface Row {
  rev: number | null; key: string | null; at_ms: number; who: string; role: Role; what: string; subject: string;
  body: Record<string, unknown>; undoes?: number | null;
}
export interface Work { doing: string; done_ratio: number | null }

/** A refusal is a sentence that says what to do. */
export class Refused extends Error {
  constructor(readonly status: number, readonly place: string, text: string) {
    super(text);
  }
}
/** The laptop could not be reached, or is busy: the same may be asked again. */
export class Unreached extends Error {}

async function answered(response: Response): Promise<Response> {
  if (response.ok) return response;
  if (response.status >= 500 || response.status === 429) throw new Unreached(`${response.status}`);
  let place = '';
  let sentence = '';
  try {
    const body = (await response.json()) as { error?: { place?: string; text?: string } };
    place = body.error?.place ?? '';
    sentence = body.error?.text ?? '';
  } catch {
    // No sentence came along; the page says its own.
  }
  throw new Refused(response.status, place, sentence);
}

export async function ask(path: string, init?: RequestInit, timeout_ms = 20000): Promise<Response> {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), timeout_ms);
  try {
    return await answered(await fetch(path, { ...init, signal: stop.signal, cache: 'no-store' }));
  } catch (error) {
    if (error instanceof Refused) throw error;
    throw new Unreached(String(error));
  } finally {
    clearTimeout(timer);
  }
}

export async function get<T>(path: string): Promise<T> {
  return (await (await ask(path)).json()) as T;
}

export async function post<T>(path: string, body: unknown, timeout_ms?: number): Promise<T> {
  const init = { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body) };
  return (await (await ask(path, init, timeout_ms)).json()) as T;
}

export async function remove(path: string): Promise<void> {
  await ask(path, { method: 'DELETE' });
}

export const jobPath = (job: string): string => `/api/jobs/${encodeURIComponent(job)}`;
export const framePath = (job: string, frame: string): string =>
  `${jobPath(job)}/frames/${encodeURIComponent(frame)}`;
export const viewPath = (job: string, frame: string, width: number): string =>
  `${framePath(job, frame)}/view.jpg?width=${width}`;
