// SPDX-License-Identifier: Apache-2.0
// The plate clock of the laptop, and its alarm in the last fifth, which every screen sounds: phones sleep.
import { useEffect, useRef, useState } from 'preact/hooks';
import { get, jobPath } from './api';
import type { JobState } from './api';
import { useBeat } from './live';
import type { Live } from './live';
import { lifeOf, plateOn } from './plates';
import type { Life, PlateClock } from './plates';

export function useClock(live: Live): PlateClock[] {
  const [clock, setClock] = useState<PlateClock[]>([]);
  const rev = live.shown?.rev ?? -1;
  useEffect(() => {
    if (rev < 0) return undefined;
    let gone = false;
    const look = (): void => {
      get<{ plates: PlateClock[] }>(`${jobPath(live.job)}/clock`).then(
        (answer) => {
          if (!gone) setClock(answer.plates);
        },
        () => undefined,
      );
    };
    look();
    const timer = setInterval(look, 20000);
    return () => {
      gone = true;
      clearInterval(timer);
    };
  }, [live, rev, live.net]);
  return clock;
}

export function useLife(live: Live, state: JobState, clock: readonly PlateClock[]): Life | null {
  useBeat(250);
  const plate = plateOn(state);
  return plate ? lifeOf(plate, clock, live.now()) : null;
}

let sound: AudioContext | null = null;

/** A browser lets a page sound only after it was touched. */
export function allowSound(): void {
  try {
    sound ??= new AudioContext();
    if (sound.state === 'suspended') void sound.resume();
  } catch {
    sound = null;
  }
}

function knock(): void {
  if (!sound || sound.state !== 'running') return;
  // Two short knocks, as with a spoon on the rim of a pan.
  for (const [after, pitch] of [[0, 880], [0.22, 660]] as const) {
    const at = sound.currentTime + after;
    const tone = sound.createOscillator();
    const level = sound.createGain();
    tone.frequency.value = pitch;
    level.gain.setValueAtTime(0.0001, at);
    level.gain.exponentialRampToValueAtTime(0.5, at + 0.01);
    level.gain.exponentialRampToValueAtTime(0.0001, at + 0.18);
    tone.connect(level).connect(sound.destination);
    tone.start(at);
    tone.stop(at + 0.2);
  }
}

const KNOCK_EVERY_MS = 4000;

export function useAlarm(life: Life | null): void {
  const alarm = life !== null && life.alarm && life.left_s > 0;
  const last = useRef(0);
  useEffect(() => {
    window.addEventListener('pointerdown', allowSound);
    window.addEventListener('keydown', allowSound);
    return () => {
      window.removeEventListener('pointerdown', allowSound);
      window.removeEventListener('keydown', allowSound);
    };
  }, []);
  useEffect(() => {
    if (!alarm) return undefined;
    const ring = (): void => {
      if (Date.now() - last.current < KNOCK_EVERY_MS - 100) return;
      last.current = Date.now();
      knock();
      navigator.vibrate?.([120, 80, 120]);
    };
    ring();
    const timer = setInterval(ring, KNOCK_EVERY_MS);
    return () => clearInterval(timer);
  }, [alarm]);
}
