// SPDX-License-Identifier: Apache-2.0
// What this device keeps between visits. A browser may forbid it: then it is kept until the page goes.
const meanwhile = new Map<string, string>();
const PREFIX = 'platecall.';

export function kept(name: string): string | null {
  try {
    return localStorage.getItem(PREFIX + name) ?? meanwhile.get(name) ?? null;
  } catch {
    return meanwhile.get(name) ?? null;
  }
}

/** False when it will not outlive the page. */
export function keep(name: string, value: string): boolean {
  meanwhile.set(name, value);
  try {
    localStorage.setItem(PREFIX + name, value);
    return true;
  } catch {
    return false;
  }
}
