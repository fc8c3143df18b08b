// SPDX-License-Identifier: Apache-2.0
// Frames on their way to the job. The file stays at hand until the laptop has all of it: what was cut off is sent again.
import { useEffect, useState } from 'preact/hooks';
import { jobPath } from './api';
import { text } from './text';

export type Step = 'waits' | 'sending' | 'cut' | 'there' | 'again' | 'refused';
export interface Upload { file: File; name: string; step: Step; sent_ratio: number; sentence: string }

const RETRY_MS = 3000;

export class Uploads {
  list: Upload[] = [];
  private listeners = new Set<() => void>();
  private busy = false;

  constructor(private readonly job: string) {}

  listen(listener: () => void): () => void {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  add(files: Iterable<File>): void {
    for (const file of files) this.list.push({ file, name: file.name, step: 'waits', sent_ratio: 0, sentence: '' });
    this.tell();
    void this.work();
  }

  private tell(): void {
    this.list = [...this.list];
    for (const listener of [...this.listeners]) listener();
  }

  private set(upload: Upload, step: Step, sentence = ''): void {
    upload.step = step;
    upload.sentence = sentence;
    this.tell();
  }

  private async work(): Promise<void> {
    if (this.busy) return;
    this.busy = true;
    for (;;) {
      const upload = this.list.find((one) => one.step === 'waits' || one.step === 'cut');
      if (!upload) break;
      if (upload.step === 'cut') await new Promise((resolve) => setTimeout(resolve, RETRY_MS));
      await this.send(upload);
    }
    this.busy = false;
  }

  private send(upload: Upload): Promise<void> {
    this.set(upload, 'sending');
    return new Promise((resolve) => {
      // fetch does not say how far it has come.
      const request = new XMLHttpRequest();
      request.open('PUT', `${jobPath(this.job)}/inbox/${encodeURIComponent(upload.name)}`);
      request.setRequestHeader('Content-Type', 'application/octet-stream');
      request.upload.onprogress = (event) => {
        upload.sent_ratio = event.total > 0 ? event.loaded / event.total : 0;
        this.tell();
      };
      request.onload = () => {
        this.answered(upload, request.status, request.responseText);
        resolve();
      };
      request.onerror = () => {
        this.set(upload, 'cut', text.intake.cut(upload.name));
        resolve();
      };
      request.send(upload.file);
    });
  }

  private answered(upload: Upload, status: number, body: string): void {
    if (status === 201) return this.set(upload, 'there');
    if (status === 200) return this.set(upload, 'again', text.intake.hadIt(upload.name));
    if (status >= 500 || status === 429 || status === 408) return this.set(upload, 'cut', text.intake.cut(upload.name));
    let sentence = '';
    try {
      sentence = (JSON.parse(body) as { error?: { text?: string } }).error?.text ?? '';
    } catch {
      // No sentence came along.
    }
    return this.set(upload, 'refused', sentence || text.net.refused);
  }
}

const all = new Map<string, Uploads>();

export function uploadsOf(job: string): Uploads {
  let uploads = all.get(job);
  if (!uploads) {
    uploads = new Uploads(job);
    all.set(job, uploads);
  }
  return uploads;
}

export function useUploads(job: string): Uploads {
  const uploads = uploadsOf(job);
  const [, again] = useState(0);
  useEffect(() => uploads.listen(() => again((n) => n + 1)), [uploads]);
  return uploads;
}

/** Frames may be dropped on any page of a job. */
export function useDrop(job: string | null, dropped: () => void): boolean {
  const [over, setOver] = useState(false);
  useEffect(() => {
    if (!job) return undefined;
    const holds = (event: DragEvent): boolean => event.dataTransfer?.types.includes('Files') ?? false;
    const onOver = (event: DragEvent): void => {
      if (!holds(event)) return;
      event.preventDefault();
      setOver(true);
    };
    const onLeave = (event: DragEvent): void => {
      if (!event.relatedTarget) setOver(false);
    };
    const onDrop = (event: DragEvent): void => {
      if (!holds(event)) return;
      event.preventDefault();
      setOver(false);
      uploadsOf(job).add(event.dataTransfer?.files ?? []);
      dropped();
    };
    window.addEventListener('dragover', onOver);
    window.addEventListener('dragleave', onLeave);
    window.addEventListener('drop', onDrop);
    return () => {
      window.removeEventListener('dragover', onOver);
      window.removeEventListener('dragleave', onLeave);
      window.removeEventListener('drop', onDrop);
    };
  }, [job]);
  return over;
}
