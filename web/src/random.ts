// SPDX-License-Identifier: Apache-2.0
// crypto.randomUUID wants a secure origin; getRandomValues works over plain HTTP in the local network too.
export function randomKey(bytes = 16): string {
  const raw = new Uint8Array(bytes);
  crypto.getRandomValues(raw);
  return Array.from(raw, (b) => b.toString(16).padStart(2, '0')).join('');
}
