// SPDX-License-Identifier: Apache-2.0
// Changes that wait to be sent. Each has a random key, so that one which was sent and never answered can be sent
// again: the server takes the same key for the same change.
import { Refused } from './api';
import { randomKey } from './random';

export interface Unsent {
  job: string; key: string; what: string; subject: string; body: Record<string, unknown>; made_ms: number;
}
export interface Shelf { load: () => Unsent[]; save: (list: Unsent[]) => void }
export type Send = (change: Unsent, body: Record<string, unknown>) => Promise<number>;

/** When a tap was made counts, not when it got through: how long ago is reckoned as it leaves. */
export function bodyAsSent(change: Unsent, now_ms: number): Record<string, unknown> {
  return change.what === 'tap' ? { ...change.body, ago_ms: Math.max(0, Math.round(now_ms - change.made_ms)) } : change.body;
}

export class Queue {
  private sending: Promise<void> | null = null;
  private revs = new Map<string, number>();

  constructor(
    private readonly shelf: Shelf,
    private readonly send: Send,
    private readonly changed: () => void,
    private readonly sent: (change: Unsent, rev: number) => void,
    private readonly refused: (change: Unsent, why: Refused) => void,
    private readonly now: () => number = Date.now,
  ) {}

  waiting(job: string): Unsent[] {
    return this.shelf.load().filter((change) => change.job === job);
  }

  add(job: string, what: string, subject: string, body: Record<string, unknown>): string {
    const change: Unsent = { job, key: randomKey(), what, subject, body, made_ms: this.now() };
    // Read anew each time: another page of this device may have written.
    this.shelf.save([...this.shelf.load(), change]);
    this.changed();
    return change.key;
  }

  /** The rev that a change of this page got, once it was sent. */
  rev(key: string): number | undefined {
    return this.revs.get(key);
  }

  /** One after the other, in the order they were made. Resolves to false when the laptop could not be reached. */
  async flush(): Promise<boolean> {
    let reached = true;
    if (!this.sending) {
      this.sending = this.sendAll().then(
        () => undefined,
        () => {
          reached = false;
        },
      );
      await this.sending;
      this.sending = null;
    } else {
      await this.sending;
    }
    return reached;
  }

  private async sendAll(): Promise<void> {
    for (let change = this.shelf.load()[0]; change; change = this.shelf.load()[0]) {
      const { key } = change;
      try {
        const rev = await this.send(change, bodyAsSent(change, this.now()));
        this.revs.set(key, rev);
        this.sent(change, rev);
      } catch (error) {
        // What is refused will be refused again; a device that has to join first keeps its changes.
        if (!(error instanceof Refused) || error.status === 401) throw error;
        this.refused(change, error);
      }
      this.shelf.save(this.shelf.load().filter((other) => other.key !== key));
      this.changed();
    }
  }
}
