// SPDX-License-Identifier: Apache-2.0
// A plate's life by its taps: which plate is on, what the next tap is, how long it has.
import type { JobState, Plate, Role, Shot, TapState } from './api';

const ORDER: readonly TapState[] = ['stand_in', 'called', 'down', 'have_it', 'gone'];
const COOK: readonly TapState[] = ['called', 'down', 'gone'];

export interface PlateClock {
  plate: string; now: string | null; left_s: number | null; life_s: number | null; gone_at_ms: number | null;
  alarm: boolean;
}

/** How far it has come. Two devices may tap at once and a tap may come late, so the furthest counts. */
export function furthest(plate: Plate): TapState | null {
  let at = -1;
  for (const tap of plate.taps) at = Math.max(at, ORDER.indexOf(tap.state));
  return ORDER[at] ?? null;
}

export function tapTime(plate: Plate, state: TapState): number | null {
  const tap = plate.taps.find((other) => other.state === state);
  return tap ? tap.at_ms : null;
}

/** The plate on set: the one that has come furthest and is not gone; of several the youngest. */
export function plateOn(state: JobState): Plate | null {
  let best: Plate | null = null;
  let bestAt = -1;
  for (const plate of state.plates) {
    const far = furthest(plate);
    const at = far === null ? -0.5 : ORDER.indexOf(far);
    if (far !== 'gone' && at >= bestAt) {
      best = plate;
      bestAt = at;
    }
  }
  return best;
}

/** The shot whose plate comes after: the first in the list that has had none. */
export function shotNext(state: JobState): Shot | null {
  return state.shots.find((shot) => !state.plates.some((plate) => plate.shot === shot.id)) ?? null;
}

/** The next tap this device may make; null: another's turn. */
export function tapNext(plate: Plate | null, role: Role): TapState | null {
  const far = plate ? furthest(plate) : null;
  const next = far === null ? 'stand_in' : ORDER[ORDER.indexOf(far) + 1];
  if (!next) return null;
  if (role === 'photographer') return next;
  if (role !== 'cook') return null;
  // The cook calls without a stand-in, and takes a plate away that nobody said was done with.
  if (next === 'stand_in') return 'called';
  return COOK.includes(next) ? next : 'gone';
}

export interface Life { left_s: number; life_s: number; ratio: number; alarm: boolean }

/** What is left of a plate that is down, by the clock of the laptop. */
export function lifeOf(plate: Plate, clock: readonly PlateClock[], now_ms: number): Life | null {
  const line = clock.find((other) => other.plate === plate.id);
  const down = tapTime(plate, 'down');
  const life_s = line?.life_s ?? null;
  if (down === null || life_s === null || !(life_s > 0)) return null;
  const gone_at = line?.gone_at_ms ?? down + 1000 * life_s;
  const left_s = Math.max(0, (gone_at - now_ms) / 1000);
  const ratio = Math.min(1, left_s / life_s);
  return { left_s, life_s, ratio, alarm: ratio <= 0.2 };
}
