// SPDX-License-Identifier: Apache-2.0
// Frames in: lay down a sheet and a card, drop the frames, read what was understood, touch the hero and the surface.
import type { JSX } from 'preact';
import { useRef, useState } from 'preact/hooks';
import { viewPath } from '../api';
import type { Frame, JobState, RoleName, Touch, TouchName } from '../api';
import { TouchPicture } from '../picture';
import type { Live } from '../live';
import { text } from '../text';
import { useUploads } from '../uploads';
import type { Upload } from '../uploads';
import { bytes, clockSeconds } from '../units';
import { Link } from '../way';
import { useWeigh } from '../weigh';
import type { Weigh } from '../weigh';
import { FirstSketch } from './first-sketch';
import './intake.css';

const ROLES: readonly RoleName[] = ['ambient', 'light', 'flash', 'take', 'closing', 'aside'];
const TOUCHES: readonly TouchName[] = ['hero', 'surface', 'greycard'];
const RADIUS: Partial<Record<TouchName, number>> = { hero: 0.02, surface: 0.02, greycard: 0.012 };

export function Intake({ live, state, base }: { live: Live; state: JobState; base: string }): JSX.Element {
  const weigh = useWeigh(live);
  const measured = state.frames.filter((frame) => frame.role?.role !== 'aside');
  return (
    <>
      {state.frames.length === 0 ? <FirstRun /> : null}
      <Drop job={live.job} empty={state.frames.length === 0} />
      {state.frames.length > 0 ? <Understood live={live} frames={state.frames} weigh={weigh} /> : null}
      {measured.length > 0 ? <Touching live={live} state={state} /> : null}
      {state.frames.length > 0 && touched(state.touches, 'hero') && touched(state.touches, 'surface') ? (
        <Outcome weigh={weigh} base={base} />
      ) : null}
    </>
  );
}

function touched(touches: readonly Touch[], subject: TouchName): Touch | undefined {
  return touches.find((touch) => touch.subject === subject);
}

function FirstRun(): JSX.Element {
  return (
    <section class="first-run">
      <FirstSketch />
      <ol class="column">
        {text.intake.steps.map((step) => (
          <li key={step}>{step}</li>
        ))}
      </ol>
    </section>
  );
}

function Drop({ job, empty }: { job: string; empty: boolean }): JSX.Element {
  const uploads = useUploads(job);
  const files = useRef<HTMLInputElement>(null);
  const camera = useRef<HTMLInputElement>(null);
  const take = (event: JSX.TargetedEvent<HTMLInputElement>): void => {
    uploads.add(event.currentTarget.files ?? []);
    event.currentTarget.value = '';
  };
  return (
    <section class="no-print">
      {empty ? <h2>{text.intake.dropFirst}</h2> : null}
      <p class="drop-here">
        <span>{text.intake.drop}</span>{' '}
        <button type="button" onClick={() => files.current?.click()}>
          {text.intake.choose}
        </button>{' '}
        <button type="button" onClick={() => camera.current?.click()}>
          {text.intake.camera}
        </button>
      </p>
      <input ref={files} class="hidden-words" type="file" multiple tabIndex={-1} aria-label={text.intake.choose}
        onChange={take} />
      <input ref={camera} class="hidden-words" type="file" accept="image/*" capture="environment" tabIndex={-1}
        aria-label={text.intake.camera} onChange={take} />
      <UploadLines list={uploads.list} />
    </section>
  );
}

function UploadLines({ list }: { list: readonly Upload[] }): JSX.Element {
  const under = list.filter((one) => one.step === 'waits' || one.step === 'sending');
  const there = list.filter((one) => one.step === 'there').length;
  const told = list.filter((one) => one.sentence !== '');
  const sending = under.find((one) => one.step === 'sending');
  return (
    <div role="status">
      {sending ? (
        <p>
          {text.intake.sending(sending.name, Math.round(100 * sending.sent_ratio), bytes(sending.file.size))}
          {under.length > 1 ? ` ${text.intake.more(under.length - 1)}` : ''}
        </p>
      ) : there > 0 ? (
        <p>{text.intake.there(there)}</p>
      ) : null}
      {told.map((one) => (
        <p key={one.name} class={one.step === 'again' ? 'soft' : 'wrong'}>
          {one.sentence}
        </p>
      ))}
    </div>
  );
}

function Understood({ live, frames, weigh }: { live: Live; frames: Frame[]; weigh: Weigh | null }): JSX.Element {
  const [all, setAll] = useState(false);
  const shown = all ? frames : frames.slice(-12);
  return (
    <section>
      <h2>{text.intake.understood}</h2>
      <p class="column">{text.intake.summary(frames.map((frame) => frame.role))}</p>
      {weigh?.answer?.notes.map((note) => (
        <p key={note} class="column">
          {note}
        </p>
      ))}
      {weigh?.state === 'refused' && weigh.sentence ? <p class="wrong column">{weigh.sentence}</p> : null}
      <table class="frames">
        <caption class="hidden-words">{text.intake.understood}</caption>
        <tbody>
          {shown.map((frame) => (
            <FrameLine key={frame.id} live={live} frame={frame} />
          ))}
        </tbody>
      </table>
      {frames.length > shown.length ? (
        <button type="button" class="words" onClick={() => setAll(true)}>
          {text.intake.showAll(frames.length - shown.length)}
        </button>
      ) : null}
    </section>
  );
}

function FrameLine({ live, frame }: { live: Live; frame: Frame }): JSX.Element {
  const role = frame.role;
  const lit = role?.role === 'light' || role?.role === 'flash';
  const change = (to: Partial<NonNullable<Frame['role']>>): void => {
    live.change('role', frame.id, { ...(role ?? { role: 'aside' }), ...to });
  };
  return (
    <tr>
      <th scope="row">{frame.name}</th>
      <td class="soft frame-when">{clockSeconds(frame.taken_ms ?? frame.at_ms)}</td>
      <td>
        <select aria-label={text.intake.roleOf(frame.name)} value={role?.role ?? ''}
          onChange={(event) => change({ role: event.currentTarget.value as RoleName })}>
          {role ? null : <option value="">{text.intake.roleUntold}</option>}
          {ROLES.map((one) => (
            <option key={one} value={one}>
              {text.intake.roles[one]}
            </option>
          ))}
        </select>
      </td>
      <td>
        {lit ? (
          <input class="light-name" aria-label={text.intake.lightOf(frame.name)} defaultValue={role.light ?? ''}
            maxLength={47} onChange={(event) => change({ light: event.currentTarget.value.trim() })} />
        ) : null}
      </td>
    </tr>
  );
}

function Touching({ live, state }: { live: Live; state: JobState }): JSX.Element {
  const first = TOUCHES.find((subject) => !touched(state.touches, subject));
  const [picked, setPicked] = useState<TouchName | null>(null);
  const lit = state.frames.filter((frame) => frame.role?.role !== 'aside');
  const [at, setAt] = useState<number | null>(null);
  // A lit frame shows the table best; the first is often the window alone.
  const preferred = Math.max(0, lit.findIndex((frame) => frame.role?.role === 'light'));
  const index = Math.min(at ?? preferred, lit.length - 1);
  const frame = lit[index];
  const subject = picked ?? first ?? null;
  if (!frame) return <></>;
  const touch = subject ? touched(state.touches, subject) : undefined;
  return (
    <section>
      <h2>{subject ? text.intake.touch[subject] : text.intake.touched}</h2>
      <p class="column">{subject ? text.intake.touchHow[subject] : text.intake.touchedSay}</p>
      <div class="mat">
        <TouchPicture
          label={subject ? text.intake.touch[subject] : text.intake.touched}
          ring={touch}
          ringName={subject ? text.subjects[subject] : undefined}
          onTouch={
            subject
              ? (spot) => {
                  live.change('touch', subject, { ...spot, radius_ratio: RADIUS[subject] ?? 0.02, shot: null });
                  setPicked(null);
                }
              : undefined
          }
        >
          <img src={viewPath(live.job, frame.id, 1280)} alt={text.intake.view(frame.name)} />
        </TouchPicture>
      </div>
      <p class="touch-words">
        {TOUCHES.map((one) => (
          <button key={one} type="button" class="words" aria-pressed={subject === one} onClick={() => setPicked(one)}>
            {touched(state.touches, one) ? text.intake.touchAgain[one] : text.intake.touch[one]}
          </button>
        ))}
        {lit.length > 1 ? (
          <button type="button" class="words" onClick={() => setAt((index + 1) % lit.length)}>
            {text.intake.otherFrame}
          </button>
        ) : null}
      </p>
    </section>
  );
}

function Outcome({ weigh, base }: { weigh: Weigh | null; base: string }): JSX.Element {
  return (
    <section role="status">
      {weigh?.state === 'working' ? <p>{text.weigh.working(weigh.doing, weigh.done_ratio)}</p> : null}
      {weigh?.state === 'needs' && weigh.sentence ? <p>{weigh.sentence}</p> : null}
      {weigh?.state === 'ready' ? (
        <p class="column">
          {text.intake.answers} <Link to={`${base}prep`}>{text.intake.toPrep}</Link>
        </p>
      ) : null}
    </section>
  );
}
