// SPDX-License-Identifier: Apache-2.0
// The prep sheet: one printed column, headings of a cookbook.
import type { JSX } from 'preact';
import { useContext, useState } from 'preact/hooks';
import { jobPath } from '../api';
import type { JobState, Outlet, Shot } from '../api';
import { LengthsContext } from '../booklet';
import { useClock } from '../clockwork';
import type { Live } from '../live';
import { text } from '../text';
import { dial, inAbout, length, pageSize, within } from '../units';
import type { Lengths } from '../units';
import { Link } from '../way';
import { useWeigh } from '../weigh';
import type { Answer, Weigh } from '../weigh';
import { ClosingCheck } from './closing';
import { OneLight } from './one-light';
import { NewShot } from './new-shot';
import './prep.css';

export function Prep({ live, state, base, shot }: {
  live: Live; state: JobState; base: string; shot: Shot | null;
}): JSX.Element {
  const weigh = useWeigh(live);
  const answer = weigh?.answer ?? null;
  return (
    <div class="prep">
      {shot ? <p class="prep-under">{text.prep.under(shot.look ?? '', shot.angle_deg)}</p> : null}
      {shot ? <Serves state={state} shot={shot} /> : null}
      <h2>{text.prep.ingredients}</h2>
      <Ingredients state={state} weigh={weigh} base={base} />
      {shot ? <Section live={live} shot={shot} /> : null}
      {answer ? <Readings answer={answer} /> : null}
      {answer ? <OneLight live={live} answer={answer} /> : null}
      <h2>{text.prep.method}</h2>
      <Method state={state} answer={answer} base={base} />
      <ClosingCheck live={live} answer={answer} />
      <h2>{text.prep.keeps}</h2>
      <Keeps live={live} shot={shot} answer={answer} />
      {shot ? <AnotherShot live={live} state={state} /> : <NewShot live={live} state={state} />}
    </div>
  );
}

function AnotherShot({ live, state }: { live: Live; state: JobState }): JSX.Element {
  const [open, setOpen] = useState(false);
  return open ? (
    <NewShot live={live} state={state} />
  ) : (
    <p class="no-print">
      <button type="button" class="words" onClick={() => setOpen(true)}>
        {text.prep.anotherShot}
      </button>
    </p>
  );
}

export function outletSize(outlet: Outlet, lengths: Lengths): string {
  if (outlet.size_mm) return pageSize(outlet.size_mm, lengths);
  const [w, h] = outlet.size_px ?? [];
  return w && h ? text.prep.pixels(w, h) : '';
}

function Serves({ state, shot }: { state: JobState; shot: Shot }): JSX.Element {
  const { lengths } = useContext(LengthsContext);
  const mine = state.outlets.filter((outlet) => shot.outlets.includes(outlet.name));
  return (
    <>
      <h2>{text.prep.serves}</h2>
      {mine.length === 0 ? <p class="soft">{text.prep.servesNone}</p> : null}
      {mine.length > 0 ? (
        <ul class="plain">
          {mine.map((outlet) => (
            <li key={outlet.name}>
              {outlet.name}, {outletSize(outlet, lengths)}
              <span class="soft">
                {outlet.bleed_mm ? `, ${text.crops.bleed(length(outlet.bleed_mm, lengths))}` : ''}
                {outlet.fold_at ? `, ${text.crops.fold(length(outlet.fold_clear_mm ?? 0, lengths))}` : ''}
                {outlet.clear_top_pct ? `, ${text.crops.type(outlet.clear_top_pct)}` : ''}
              </span>
            </li>
          ))}
        </ul>
      ) : null}
    </>
  );
}

function Ingredients({ state, weigh, base }: { state: JobState; weigh: Weigh | null; base: string }): JSX.Element {
  const answer = weigh?.answer;
  if (!answer) return <NotYet state={state} weigh={weigh} base={base} />;
  return (
    <div class="scroll-wide" tabIndex={0} role="region" aria-label={text.prep.lights}>
      <table>
        <caption class="hidden-words">{text.prep.lights}</caption>
        <thead>
          <tr>
            <th scope="col">{text.prep.light}</th>
            <th scope="col" class="figure">{text.prep.dial}</th>
            <th scope="col" class="figure">{text.prep.onHero}</th>
            <th scope="col" class="figure">{text.prep.onSurface}</th>
            <th scope="col" class="figure">{text.prep.colour}</th>
          </tr>
        </thead>
        <tbody>
          <tr>
            <th scope="row">{text.prep.ambient}</th>
            <td class="figure"></td>
            <td class="figure">{pct(answer.ambient_hero_share_ratio, answer.ambient_hero_share_ratio_tolerance)}</td>
            <td class="figure">
              {pct(answer.ambient_surface_share_ratio, answer.ambient_surface_share_ratio_tolerance)}
            </td>
            <td class="figure"></td>
          </tr>
          {answer.lights.map((light) => (
            <tr key={light.name}>
              <th scope="row">{light.name}</th>
              <td class="figure">{dial(light.dial_ratio)} %</td>
              <td class="figure">{pct(light.hero_share_ratio, light.hero_share_ratio_tolerance)}</td>
              <td class="figure">{pct(light.surface_share_ratio, light.surface_share_ratio_tolerance)}</td>
              <td class="figure">{text.weigh.mired(light.mired_from_ambient, light.mired_from_ambient_tolerance)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

const pct = (ratio: number, tolerance: number): string => within(100 * ratio, 100 * tolerance, '%');

function NotYet({ state, weigh, base }: { state: JobState; weigh: Weigh | null; base: string }): JSX.Element {
  return (
    <p role="status">
      {weigh?.state === 'working' ? text.weigh.working(weigh.doing, weigh.done_ratio) : null}
      {weigh?.state === 'refused' || weigh?.state === 'needs' ? weigh.sentence : null}{' '}
      {weigh?.state !== 'working' ? (
        <Link to={`${base}intake`}>{state.frames.length === 0 ? text.prep.toFrames : text.prep.toTouches}</Link>
      ) : null}
    </p>
  );
}

function Section({ live, shot }: { live: Live; shot: Shot }): JSX.Element | null {
  const [missing, setMissing] = useState(false);
  if (missing) return null;
  return (
    <figure class="section">
      <img src={`${jobPath(live.job)}/section.svg?shot=${encodeURIComponent(shot.id)}`} alt={text.prep.section}
        onError={() => setMissing(true)} />
      <figcaption class="soft small">{text.prep.sectionSay}</figcaption>
    </figure>
  );
}

function Readings({ answer }: { answer: Answer }): JSX.Element {
  return (
    <>
      <h3>{text.prep.readings}</h3>
      {text.weigh.sentences(answer).map((sentence) => (
        <p key={sentence}>{sentence}</p>
      ))}
    </>
  );
}

function Method({ state, answer, base }: { state: JobState; answer: Answer | null; base: string }): JSX.Element {
  const frames = state.frames.length;
  const has = (subject: string): boolean => state.touches.some((touch) => touch.subject === subject);
  const done = [
    frames > 0,
    has('hero') && has('surface'),
    state.dials !== null,
    state.frames.some((frame) => frame.role?.role === 'closing'),
    state.plates.length > 0,
  ];
  const to = [`${base}intake`, `${base}intake`, `${base}dials`, `${base}intake`, `${base}pass`];
  const dials = state.dials ?? (answer ? { dials: Object.fromEntries(answer.lights.map((l) => [l.name, l.dial_ratio])) } : null);
  return (
    <ol class="method">
      {text.prep.steps.map((step, i) => (
        <li key={step} class={done[i] ? 'done' : ''}>
          <span>{step}</span>{' '}
          {i === 2 && dials ? <span class="soft">{text.prep.dialsAre(dialLine(dials.dials))} </span> : null}
          {done[i] ? <span class="hidden-words">{text.prep.done}</span> : <Link to={to[i] ?? base}>{text.prep.doIt[i]}</Link>}
        </li>
      ))}
    </ol>
  );
}

export function dialLine(dials: Record<string, number>): string {
  return Object.entries(dials)
    .map(([name, ratio]) => `${name} ${dial(ratio)} %`)
    .join(', ');
}

function Keeps({ live, shot, answer }: { live: Live; shot: Shot | null; answer: Answer | null }): JSX.Element {
  const clock = useClock(live);
  const plate = shot ? live.shown?.plates.find((one) => one.shot === shot.id) : undefined;
  const life = plate ? clock.find((line) => line.plate === plate.id)?.life_s : undefined;
  return (
    <>
      {life ? <p>{text.prep.life(inAbout(life))}</p> : <p>{text.prep.lifeUnknown}</p>}
      {answer?.notes.map((note) => <p key={note}>{note}</p>)}
      <p class="aside-voice">{text.prep.caution}</p>
    </>
  );
}
