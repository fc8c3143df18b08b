// SPDX-License-Identifier: Apache-2.0
// The state as the server sends it, brought into the shape the pages fold: what is told by subject becomes a list.
import type {
  Choice, Dials, Frame, FrameRole, Job, JobState, Outlet, Plate, Shot, Tap, TapState, Touch, TouchName, Verdict,
} from './api';

type Item = Record<string, unknown> & { id?: string; rev?: number; at_ms?: number };
interface Raw {
  rev?: number; now_ms?: number; job?: Item | null; shots?: Item[]; outlets?: Item[]; frames?: Item[];
  roles?: Record<string, Item>; touches?: Record<string, Item>; dials?: Item | null; locked?: Item | null;
  plates?: Item[]; taps?: { rev: number; plate: string; state: TapState; at_ms: number }[];
  verdicts?: Record<string, Item>; choices?: Record<string, Item>;
}

const said = (item: Item): Record<string, unknown> =>
  Object.fromEntries(Object.entries(item).filter(([, value]) => value !== null));

export const blankJob: Job = { title: '', client: '', date: '', place: '' };
export const blankShot = (id: string): Shot => ({
  id, dish: '', look: '', angle_deg: null, dish_class: '', outlets: [], tallest_mm: null,
});
export const blankFrame = (id: string, at_ms: number): Frame => ({
  id, name: id, bytes: 0, from: '', device: '', at_ms, taken_ms: null, role: null,
});
export const blankPlate = (id: string): Plate => ({ id, shot: null, dish: '', dish_class: '', taps: [] });
export const blankTouch = (subject: TouchName): Touch => ({
  subject, x_ratio: 0.5, y_ratio: 0.5, radius_ratio: 0.02, shot: null,
});
export const blankDials = (at_ms: number): Dials => ({ dials: {}, kelvins_K: {}, shutter_s: null, why: null, at_ms });
export const blankVerdict = (frame: string): Verdict => ({
  frame, tone: 'wait', sentence: '', action: null, value: null, tolerance: null, unit: null, x_ratio: null,
  y_ratio: null, kind: null,
});

export function stateOf(raw: unknown): JobState {
  const from = raw as Raw;
  const taps = from.taps ?? [];
  return {
    rev: from.rev ?? 0,
    now_ms: from.now_ms ?? Date.now(),
    job: { ...blankJob, ...said(from.job ?? {}) },
    shots: (from.shots ?? []).map((item) => ({ ...blankShot(String(item.id)), ...said(item) })),
    outlets: (from.outlets ?? []).map((item): Outlet => ({ ...said(item), name: String(item.id) })),
    frames: (from.frames ?? []).map((item) => ({
      ...blankFrame(String(item.id), item.at_ms ?? 0), ...said(item),
      role: (from.roles?.[String(item.id)] as FrameRole | undefined) ?? null,
    })),
    touches: Object.entries(from.touches ?? {}).map(([subject, item]) => ({
      ...blankTouch(subject as TouchName), ...said(item),
    })),
    dials: from.dials ? { ...blankDials(from.dials.at_ms ?? 0), ...said(from.dials) } : null,
    locked: from.locked?.id ?? null,
    plates: (from.plates ?? []).map((item) => ({
      ...blankPlate(String(item.id)), ...said(item),
      taps: taps.filter((tap) => tap.plate === item.id).map((tap): Tap => ({ ...tap, key: null })),
    })),
    choices: Object.entries(from.choices ?? {}).map(([frame, item]): Choice => ({
      frame, this: item['this'] === true, why: typeof item['why'] === 'string' ? item['why'] : '',
    })),
    verdicts: Object.entries(from.verdicts ?? {}).map(([frame, item]) => ({ ...blankVerdict(frame), ...said(item) })),
  };
}
