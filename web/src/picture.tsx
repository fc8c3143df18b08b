// SPDX-License-Identifier: Apache-2.0
// A picture that can be touched: one grease-pencil ring where the finger was. By keyboard the arrows carry the ring,
// Enter puts it down, Escape takes it away.
import type { ComponentChildren, JSX } from 'preact';
import { useState } from 'preact/hooks';
import { text } from './text';
import './picture.css';

export interface Spot { x_ratio: number; y_ratio: number }
interface Props {
  label: string;
  ring?: Spot | null | undefined;
  ringName?: string | undefined;
  onTouch?: ((spot: Spot) => void) | undefined;
  onEscape?: (() => void) | undefined;
  children: ComponentChildren;
}

const STEP = 0.01;
const FAR_STEP = 0.05;
const clamp = (x: number): number => Math.min(1, Math.max(0, x));

export function TouchPicture({ label, ring, ringName, onTouch, onEscape, children }: Props): JSX.Element {
  const [carried, setCarried] = useState<Spot | null>(null);
  const shown = carried ?? ring ?? null;
  const byKey = (event: KeyboardEvent): void => {
    if (!onTouch) return;
    const from = shown ?? { x_ratio: 0.5, y_ratio: 0.5 };
    const step = event.shiftKey ? FAR_STEP : STEP;
    const move: Record<string, [number, number]> = {
      ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step],
    };
    const by = move[event.key];
    if (by) {
      event.preventDefault();
      setCarried({ x_ratio: clamp(from.x_ratio + by[0]), y_ratio: clamp(from.y_ratio + by[1]) });
    } else if (event.key === 'Enter' || event.key === ' ') {
      event.preventDefault();
      setCarried(null);
      onTouch(from);
    } else if (event.key === 'Escape') {
      setCarried(null);
      onEscape?.();
    }
  };
  const byFinger = (event: MouseEvent): void => {
    const box = (event.currentTarget as HTMLElement).getBoundingClientRect();
    setCarried(null);
    onTouch?.({
      x_ratio: clamp((event.clientX - box.left) / box.width), y_ratio: clamp((event.clientY - box.top) / box.height),
    });
  };
  const inner = (
    <>
      {children}
      {shown ? <Ring at={shown} name={ringName} /> : null}
    </>
  );
  if (!onTouch) return <div class="touch">{inner}</div>;
  return (
    <div class="touch touchable" role="application" tabIndex={0} aria-label={`${label}. ${text.picture.how}`}
      onKeyDown={byKey} onClick={byFinger}>
      {inner}
    </div>
  );
}

/** Drawn with a soft pencil: the ends pass each other. */
export function Ring({ at, name }: { at: Spot; name?: string | undefined }): JSX.Element {
  return (
    <span class="ring" aria-hidden="true" style={{ left: `${100 * at.x_ratio}%`, top: `${100 * at.y_ratio}%` }}>
      <svg viewBox="-50 -50 100 100">
        <path d="M-30-24C-14-43 20-42 35-20 48 2 36 33 8 39-20 43-42 24-40-2-38-22-24-37 2-40 12-41 20-38 27-34" />
      </svg>
      {name ? <span class="ring-name">{name}</span> : null}
    </span>
  );
}
