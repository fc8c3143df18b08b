// SPDX-License-Identifier: Apache-2.0
// The pass: the phone at the set. A band with the plate and its time, the hero pixel for pixel with one sentence, and
// one knuckle pad whose word changes.
import type { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { framePath } from '../api';
import type { Frame, JobState, Plate, Role, TapState, Verdict } from '../api';
import { useClock, useLife } from '../clockwork';
import type { Live } from '../live';
import { furthest, plateOn, shotNext, tapNext, tapTime } from '../plates';
import type { Life } from '../plates';
import { randomKey } from '../random';
import { text } from '../text';
import { clockSeconds, inAbout, timeLeft } from '../units';
import { CropView, useCrops } from './crop-view';
import './pass.css';

export function Pass({ live, state }: { live: Live; state: JobState }): JSX.Element {
  const clock = useClock(live);
  const life = useLife(live, state, clock);
  const plate = plateOn(state);
  const frame = latestTake(state);
  const [outlet, setOutlet] = useState<number | null>(null);
  const crops = useCrops(live, frame?.id ?? null);
  const shown = outlet === null ? undefined : crops[outlet];
  if (shown && frame) {
    return (
      <CropView live={live} frame={frame} crop={shown} done={() => setOutlet(null)}
        next={outlet !== null && outlet + 1 < crops.length ? () => setOutlet(outlet + 1) : undefined} />
    );
  }
  return (
    <div class="pass">
      <Band state={state} plate={plate} life={life} now_ms={live.now()} />
      <Sight live={live} frame={frame} verdict={verdictOf(state, frame)} />
      <Pad live={live} state={state} plate={plate} role="photographer">
        {crops[0] ? (
          <button type="button" class="pad-second" onClick={() => setOutlet(0)}>
            {text.pass.outlet(crops[0].outlet)}
          </button>
        ) : null}
      </Pad>
    </div>
  );
}

export function latestTake(state: JobState): Frame | null {
  const takes = state.frames.filter((frame) => frame.role?.role === 'take' || frame.role?.role === 'closing');
  return takes[takes.length - 1] ?? state.frames[state.frames.length - 1] ?? null;
}

function verdictOf(state: JobState, frame: Frame | null): Verdict | null {
  return state.verdicts.find((verdict) => verdict.frame === frame?.id) ?? null;
}

export function plateName(state: JobState, plate: Plate | null): string {
  if (plate) return plate.dish || text.pass.plate;
  const next = shotNext(state);
  return next ? text.pass.nextIs(next.dish || next.id) : text.pass.noPlate;
}

/** The plate's name with its time inside; what is left of the time is what is left of the tone. */
export function Band({ state, plate, life, now_ms }: {
  state: JobState; plate: Plate | null; life: Life | null; now_ms: number;
}): JSX.Element {
  const far = plate ? furthest(plate) : null;
  const since = plate && far ? tapTime(plate, far) : null;
  const said = life
    ? life.left_s > 0
      ? timeLeft(life.left_s)
      : text.pass.over
    : far && since !== null
      ? inAbout((now_ms - since) / 1000)
      : '';
  const word = life ? (life.alarm && life.left_s > 0 ? text.pass.lastFifth : '') : far ? text.pass.since[far] : '';
  return (
    <header class={`band${life?.alarm ? ' band-late' : ''}`}>
      <span class="band-left" style={{ width: `${100 * (life?.ratio ?? 0)}%` }} />
      <span class="band-name">{plateName(state, plate)}</span>
      <span class="band-time" role="timer">
        {said}
        {word ? <span class="band-word">{word}</span> : null}
      </span>
    </header>
  );
}

function Sight({ live, frame, verdict }: { live: Live; frame: Frame | null; verdict: Verdict | null }): JSX.Element {
  return (
    <section class="sight">
      {frame ? <HeroCut live={live} frame={frame} /> : <p class="hero-none">{text.pass.noFrame}</p>}
      <p class="verdict" role="status" aria-live="polite">
        {verdict ? (
          <>
            <strong class={`tone tone-${verdict.tone}`}>{text.pass.tone[verdict.tone]}</strong>
            {verdict.tone === 'shoot_on' ? null : <span> {verdict.sentence}</span>}
            {verdict.tone !== 'shoot_on' && verdict.action ? <span class="verdict-do"> {verdict.action}</span> : null}
          </>
        ) : frame ? (
          <span class="soft">{text.pass.looking}</span>
        ) : null}
      </p>
    </section>
  );
}

/** One pixel of the frame on one pixel of the screen. */
function HeroCut({ live, frame }: { live: Live; frame: Frame }): JSX.Element {
  const [size, setSize] = useState<[number, number] | null>(null);
  const [failed, setFailed] = useState(false);
  const dpr = window.devicePixelRatio || 1;
  useEffect(() => setFailed(false), [frame.id, live.answers]);
  if (failed) return <p class="hero-none">{text.pass.noHero}</p>;
  return (
    <div class="hero-cut">
      <img
        src={`${framePath(live.job, frame.id)}/hero.jpg`}
        alt={text.pass.hero(frame.name)}
        style={size ? { width: `${size[0] / dpr}px`, height: `${size[1] / dpr}px` } : { visibility: 'hidden' }}
        onLoad={(event) => setSize([event.currentTarget.naturalWidth, event.currentTarget.naturalHeight])}
        onError={() => setFailed(true)}
      />
    </div>
  );
}

export function Pad({ live, state, plate, role, children }: {
  live: Live; state: JobState; plate: Plate | null; role: Role; children?: JSX.Element | null;
}): JSX.Element {
  const shot = shotNext(state);
  const word = useRef<HTMLButtonElement>(null);
  const next = plate || shot || role === 'photographer' ? tapNext(plate, role) : null;
  const tap = (to: TapState): void => {
    let id = plate?.id;
    if (!id) {
      id = randomKey(6);
      live.change('plate', id, {
        shot: shot?.id ?? null, dish: shot?.dish || text.pass.plate, dish_class: shot?.dish_class ?? '',
      });
    }
    live.change('tap', id, { state: to });
    navigator.vibrate?.(30);
  };
  return (
    <section class="pad" aria-label={text.pass.pad}>
      <button ref={word} type="button" class="pad-word" disabled={next === null} onClick={() => next && tap(next)}>
        {next ? text.pass.taps[next] : text.pass.nothingToDo}
      </button>
      <div class="pad-row">
        {children}
        <TakeBack live={live} plate={plate ?? lastGone(state)} />
      </div>
    </section>
  );
}

function lastGone(state: JobState): Plate | null {
  return state.plates[state.plates.length - 1] ?? null;
}

/** The last tap, and how to take it back: an elbow finds the pad too. */
function TakeBack({ live, plate }: { live: Live; plate: Plate | null }): JSX.Element | null {
  const last = plate?.taps[plate.taps.length - 1];
  if (!last) return null;
  const rev = last.rev ?? (last.key !== null ? live.queue.rev(last.key) : undefined);
  return (
    <button type="button" class="pad-second" disabled={rev === undefined}
      onClick={() => rev !== undefined && live.change('undo', '', { rev })}>
      {text.pass.takeBack} <span class="soft">{text.pass.tapped(text.pass.taps[last.state], clockSeconds(last.at_ms))}</span>
    </button>
  );
}
