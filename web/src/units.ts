// SPDX-License-Identifier: Apache-2.0
// Numbers as they are printed. Never more digits than the answer is worth.

export type Lengths = 'metric' | 'inch';

const MINUS = '−';

export function signed(value: number, digits: number): string {
  const text = Math.abs(value).toFixed(digits);
  if (Number(text) === 0) return text;
  return (value < 0 ? MINUS : '+') + text;
}

/** A dial in per cent, as it is set: whole numbers, tenths below ten. */
export function dial(ratio: number): string {
  const pct = 100 * ratio;
  return pct > 0 && pct < 9.95 ? pct.toFixed(1) : pct.toFixed(0);
}

/** Value and tolerance to the same digit, the tolerance to one figure (two when it begins with a one). */
export function within(value: number, tolerance: number | null | undefined, unit: string, plus = false): string {
  const tail = unit === '' ? '' : ' ' + unit;
  if (tolerance === null || tolerance === undefined || !(tolerance > 0)) {
    return (plus ? signed(value, 1) : plain(value, 1)) + tail;
  }
  const power = Math.floor(Math.log10(tolerance));
  const first = Math.floor(tolerance / 10 ** power + 1e-9);
  const digits = Math.max(0, -power + (first === 1 ? 1 : 0));
  const step = digits > 0 ? 0 : 10 ** Math.max(0, power - (first === 1 ? 1 : 0));
  const at = (x: number): number => (step > 0 ? Math.round(x / step) * step : x);
  const shown = plus ? signed(at(value), digits) : plain(at(value), digits);
  return `${shown} ± ${plain(at(tolerance), digits)}${tail}`;
}

export function plain(value: number, digits: number): string {
  const text = Math.abs(value).toFixed(digits);
  return (value < 0 && Number(text) !== 0 ? MINUS : '') + text;
}

/** Time left on a plate: minutes and seconds, seconds alone in the last minute. */
export function timeLeft(left_s: number): string {
  const s = Math.max(0, Math.ceil(left_s));
  return s < 60 ? `${s} s` : `${Math.floor(s / 60)}:${String(s % 60).padStart(2, '0')}`;
}

/** For a line that says when: whole minutes, seconds in the last two. */
export function inAbout(s: number): string {
  return s < 120 ? `${Math.max(0, Math.round(s))} s` : `${Math.round(s / 60)} min`;
}

export function length(mm: number, lengths: Lengths): string {
  if (lengths === 'inch') return `${plain(mm / 25.4, mm < 254 ? 1 : 0)} in`;
  return mm < 100 ? `${plain(mm, 0)} mm` : `${plain(mm / 10, mm < 1000 ? 1 : 0)} cm`;
}

export function pageSize(mm: readonly number[], lengths: Lengths): string {
  const [w = 0, h = 0] = mm;
  return lengths === 'inch' ? `${plain(w / 25.4, 2)} × ${plain(h / 25.4, 2)} in` : `${w} × ${h} mm`;
}

export function bytes(n: number): string {
  return n < 1e6 ? `${Math.max(1, Math.round(n / 1e3))} kB` : `${(n / 1e6).toFixed(n < 1e7 ? 1 : 0)} MB`;
}

export function clockTime(ms: number): string {
  const d = new Date(ms);
  return [d.getHours(), d.getMinutes()].map((n) => String(n).padStart(2, '0')).join(':');
}

export function clockSeconds(ms: number): string {
  return `${clockTime(ms)}:${String(new Date(ms).getSeconds()).padStart(2, '0')}`;
}

const MONTHS = ['January', 'February', 'March', 'April', 'May', 'June', 'July', 'August', 'September', 'October',
  'November', 'December'];

/** "18 March 2027" of 2027-03-18; what is no such date comes back as it is. */
export function day(date: string): string {
  const m = /^(\d{4})-(\d{2})-(\d{2})$/.exec(date);
  const month = m ? MONTHS[Number(m[2]) - 1] : undefined;
  return m && month ? `${Number(m[3])} ${month} ${m[1]}` : date;
}

export function today(): string {
  const d = new Date();
  return `${d.getFullYear()}-${String(d.getMonth() + 1).padStart(2, '0')}-${String(d.getDate()).padStart(2, '0')}`;
}

/** A shutter as a camera writes it. */
export function shutter(s: number): string {
  return s >= 0.4 ? `${plain(s, s < 2 ? 1 : 0)} s` : `1/${Math.round(1 / s)} s`;
}
