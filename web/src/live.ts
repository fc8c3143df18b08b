// SPDX-License-Identifier: Apache-2.0
// One job as this page sees it: the server's state, events as they come, changes that have not been sent yet, and
// whether the laptop can be reached.
import { useEffect, useState } from 'preact/hooks';
import { get, jobPath, post, Refused } from './api';
import type { JobState, Row, Work } from './api';
import { fold } from './fold';
import { keep, kept } from './kept';
import { Queue } from './queue';
import type { Unsent } from './queue';
import { stateOf } from './state';
import { troubleOf } from './trouble';

export type Net = 'asking' | 'open' | 'lost';
const SHELF = 'unsent';
const LOST_LONG_MS = 15000;
const PROBE_MS = 10000;

function loadUnsent(): Unsent[] {
  try {
    const list: unknown = JSON.parse(kept(SHELF) ?? '[]');
    return Array.isArray(list) ? (list as Unsent[]) : [];
  } catch {
    return [];
  }
}

export class Live {
  shown: JobState | null = null;
  net: Net = 'asking';
  lost_ms: number | null = null;
  trouble: unknown = null;
  said = '';
  work: Work | null = null;
  /** Goes up when the server has other answers than before. */
  answers = 0;
  /** The server's clock less this device's. */
  skew_ms = 0;
  readonly queue: Queue;
  private server: JobState | null = null;
  private listeners = new Set<() => void>();
  private source: EventSource | null = null;
  private timer: ReturnType<typeof setTimeout> | null = null;
  private early: Row[] = [];
  /** Sent and taken, and not yet told of by the server: without these a page would fall back for a moment. */
  private flying: { change: Unsent; rev: number }[] = [];
  private users = 0;

  constructor(readonly job: string) {
    this.queue = new Queue(
      { load: loadUnsent, save: (list) => void keep(SHELF, JSON.stringify(list)) },
      async (change, body) => {
        const { key, what, subject } = change;
        const answer = await post<{ rev: number }>(`${jobPath(change.job)}/changes`, { key, what, subject, body });
        return answer.rev;
      },
      () => this.show(),
      (change, rev) => {
        if (change.job === job) this.flying.push({ change, rev });
      },
      (_, why) => {
        this.said = troubleOf(why);
      },
    );
  }

  now(): number {
    return Date.now() + this.skew_ms;
  }

  lostLong(): boolean {
    return this.lost_ms !== null && Date.now() - this.lost_ms > LOST_LONG_MS;
  }

  listen(listener: () => void): () => void {
    this.listeners.add(listener);
    if (this.users++ === 0) this.open();
    return () => {
      this.listeners.delete(listener);
      if (--this.users === 0) this.close();
    };
  }

  /** Writes a change down here, shows it, and sends it when it can. */
  change(what: string, subject: string, body: Record<string, unknown>): string {
    this.said = '';
    const key = this.queue.add(this.job, what, subject, body);
    void this.flush();
    return key;
  }

  private tell(): void {
    for (const listener of [...this.listeners]) listener();
  }

  private show(): void {
    let state = this.server;
    if (state) {
      const known = state.rev;
      this.flying = this.flying.filter((one) => one.rev > known);
      const waiting = this.queue.waiting(this.job).filter((one) => !this.flying.some((f) => f.change.key === one.key));
      for (const change of [...this.flying.map((one) => one.change), ...waiting]) state = this.folded(state, change);
    }
    this.shown = state;
    this.tell();
  }

  private folded(state: JobState, change: Unsent): JobState {
    const { key, what, subject, body, made_ms } = change;
    return fold(state, {
      rev: this.queue.rev(key) ?? null, key, at_ms: made_ms + this.skew_ms, who: '', role: 'photographer', what, subject,
      body,
    });
  }

  private open(): void {
    window.addEventListener('offline', this.onOffline);
    window.addEventListener('online', this.onOnline);
    document.addEventListener('visibilitychange', this.onSeen);
    this.connect();
  }

  private close(): void {
    window.removeEventListener('offline', this.onOffline);
    window.removeEventListener('online', this.onOnline);
    document.removeEventListener('visibilitychange', this.onSeen);
    this.source?.close();
    this.source = null;
    if (this.timer) clearTimeout(this.timer);
    this.timer = null;
  }

  private onOffline = (): void => this.lose();
  private onOnline = (): void => this.connect();
  private onSeen = (): void => {
    if (document.visibilityState === 'visible') void this.fetchState();
  };

  private connect(): void {
    this.source?.close();
    const source = new EventSource(`${jobPath(this.job)}/events`);
    this.source = source;
    source.addEventListener('open', () => void this.fetchState());
    source.addEventListener('error', () => {
      this.lose();
      // A browser tries again by itself unless the answer was an error.
      if (source.readyState === EventSource.CLOSED) this.later(() => this.connect(), 2000);
    });
    source.addEventListener('change', (event) => this.take(JSON.parse((event as MessageEvent<string>).data) as Row));
    source.addEventListener('work', (event) => {
      this.work = JSON.parse((event as MessageEvent<string>).data) as Work;
      this.tell();
    });
    source.addEventListener('answers', () => {
      this.work = null;
      this.answers++;
      this.tell();
    });
    if (!this.server) void this.fetchState();
  }

  private later(what: () => void, ms: number): void {
    if (this.timer) clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      this.timer = null;
      if (this.users > 0) what();
    }, ms);
  }

  private take(row: Row): void {
    if (!this.server) {
      this.early.push(row);
      return;
    }
    if (row.rev !== null && row.rev <= this.server.rev) return;
    if (row.what === 'undo') {
      void this.fetchState();
      return;
    }
    this.server = { ...fold(this.server, row), rev: row.rev ?? this.server.rev };
    this.show();
  }

  private async fetchState(): Promise<void> {
    const asked = Date.now();
    try {
      const state = stateOf(await get<unknown>(jobPath(this.job)));
      this.skew_ms = state.now_ms - (asked + Date.now()) / 2;
      if (!this.server || state.rev >= this.server.rev) this.server = state;
      const early = this.early.splice(0);
      for (const row of early) this.take(row);
      this.trouble = null;
      this.net = 'open';
      this.lost_ms = null;
      this.show();
      void this.flush();
    } catch (error) {
      if (error instanceof Refused) {
        this.trouble = error;
        this.tell();
      } else {
        this.lose();
      }
    }
    // Looked at now and then: a network that is gone says nothing.
    this.later(() => (this.source?.readyState === EventSource.CLOSED ? this.connect() : void this.fetchState()),
      this.net === 'lost' ? 2500 : PROBE_MS);
  }

  private lose(): void {
    if (this.net === 'lost') return;
    this.net = 'lost';
    this.lost_ms = Date.now();
    this.tell();
    this.later(() => void this.fetchState(), 2500);
    setTimeout(() => this.tell(), LOST_LONG_MS + 100);
  }

  private async flush(): Promise<void> {
    if (this.queue.waiting(this.job).length === 0) return;
    if (!(await this.queue.flush())) this.lose();
  }
}

const lives = new Map<string, Live>();

/** The job stays in memory while one turns the leaves. */
export function liveOf(job: string): Live {
  let live = lives.get(job);
  if (!live) {
    live = new Live(job);
    lives.set(job, live);
  }
  return live;
}

export function useLive(job: string): Live {
  const live = liveOf(job);
  const [, again] = useState(0);
  useEffect(() => live.listen(() => again((n) => n + 1)), [live]);
  return live;
}

/** Draws anew every so often: for what counts down. */
export function useBeat(ms: number): void {
  const [, again] = useState(0);
  useEffect(() => {
    const timer = setInterval(() => again((n) => n + 1), ms);
    return () => clearInterval(timer);
  }, [ms]);
}
