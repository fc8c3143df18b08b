// SPDX-License-Identifier: Apache-2.0
// The dials: a printed table to be read from two metres, one large picture, "What is wrong here?" and three ways.
import type { JSX } from 'preact';
import { useMemo, useState } from 'preact/hooks';
import { jobPath, post } from '../api';
import type { JobState } from '../api';
import type { Live } from '../live';
import { TouchPicture } from '../picture';
import type { Spot } from '../picture';
import { text } from '../text';
import { troubleOf } from '../trouble';
import { dial, signed } from '../units';
import { Link } from '../way';
import { useWeigh } from '../weigh';
import type { Answer, Wanted, Way } from '../weigh';
import type { Setting as Weights } from '../weighed/show';
import { settingAlone, settingNamed, settingOf, useParts } from '../weighed/use-parts';
import { Weighed } from '../weighed/weighed';
import { pictureWord } from '../weighed/word';
import { dialLine } from './prep';
import './dials.css';

interface Setting {
  dials: Record<string, number>; kelvins_K: Record<string, number>; why: string;
  /** How its picture is weighed; null: as the dials are. */
  weights: Weights | null;
}

export function DialsPage({ live, state, base }: { live: Live; state: JobState; base: string }): JSX.Element {
  const weigh = useWeigh(live);
  const answer = weigh?.answer;
  if (!answer) {
    return (
      <p class="column" role="status">
        {weigh?.state === 'working' ? text.weigh.working(weigh.doing, weigh.done_ratio) : (weigh?.sentence ?? text.wait)}{' '}
        {weigh?.state === 'needs' || weigh?.state === 'refused' ? (
          <Link to={`${base}intake`}>{state.frames.length === 0 ? text.prep.toFrames : text.prep.toTouches}</Link>
        ) : null}
      </p>
    );
  }
  return <Table live={live} state={state} answer={answer} />;
}

function dialsIs(state: JobState, answer: Answer): Setting {
  const captured = Object.fromEntries(answer.lights.map((light) => [light.name, light.dial_ratio]));
  return {
    dials: { ...captured, ...state.dials?.dials }, kelvins_K: { ...state.dials?.kelvins_K }, why: '', weights: null,
  };
}

function Table({ live, state, answer }: { live: Live; state: JobState; answer: Answer }): JSX.Element {
  const is = dialsIs(state, answer);
  const [to, setTo] = useState<Setting | null>(null);
  const [alone, setAlone] = useState<string | null | undefined>(undefined);
  const set = to ?? is;
  const done = (): void => {
    live.change('dials', '', { dials: set.dials, kelvins_K: set.kelvins_K, shutter_s: answer.shutter_s, why: set.why });
    setTo(null);
  };
  return (
    <>
      <div class="dials-page">
        <div class="dials-left">
          <DialTable answer={answer} is={is} set={set} alone={alone}
            show={(name) => setAlone(alone === name ? undefined : name)} />
          {to ? (
            <p class="dials-done no-print">
              <button type="button" onClick={done}>{text.dials.areSet}</button>
              <button type="button" class="words" onClick={() => setTo(null)}>{text.dials.leave}</button>
            </p>
          ) : null}
        </div>
        <WrongHere live={live} set={set} changed={to !== null} alone={alone} take={(setting) => {
          setAlone(undefined);
          setTo(setting);
        }} />
      </div>
      <ThreeWays live={live} answer={answer} take={(setting) => {
        setAlone(undefined);
        setTo(setting);
        window.scrollTo(0, 0);
      }} />
    </>
  );
}

function DialTable({ answer, is, set, alone, show }: {
  answer: Answer; is: Setting; set: Setting; alone: string | null | undefined; show: (name: string | null) => void;
}): JSX.Element {
  const kelvins = Object.keys(set.kelvins_K).length > 0;
  return (
    <table class="dial-table">
      <caption class="hidden-words">{text.dials.title}</caption>
      <thead>
        <tr>
          <th scope="col">{text.dials.lamp}</th>
          <th scope="col" class="figure">{text.dials.is}</th>
          <th scope="col" class="figure">{text.dials.set}</th>
        </tr>
      </thead>
      <tbody>
        {answer.lights.map(({ name }) => {
          const now = is.dials[name] ?? 0;
          const then = set.dials[name] ?? now;
          const changed = dial(now) !== dial(then);
          return (
            <tr key={name}>
              <th scope="row">
                {name}
                <button type="button" class="words soft small no-print" aria-pressed={alone === name}
                  onClick={() => show(name)}>
                  {alone === name ? text.oneLight.showAll : text.oneLight.show(name)}
                </button>
              </th>
              <td class="figure dial-is">{dial(now)}</td>
              <td class={`figure dial-set${changed ? ' changed' : ''}`}>
                {dial(then)}
                <small>%</small>
                {kelvins && set.kelvins_K[name] !== undefined ? (
                  <span class="dial-kelvin">{Math.round(set.kelvins_K[name] ?? 0)} K</span>
                ) : null}
              </td>
            </tr>
          );
        })}
      </tbody>
    </table>
  );
}

type Word = 'darker' | 'lighter' | 'warmer' | 'cooler';
const CORNERS: readonly Word[] = ['darker', 'lighter', 'warmer', 'cooler'];
const THIRD_EV = 1 / 3;
const WARMER_MIRED = 20;

function WrongHere({ live, set, changed, alone, take }: {
  live: Live; set: Setting; changed: boolean; alone: string | null | undefined; take: (setting: Setting) => void;
}): JSX.Element {
  const { parts, came } = useParts(live, true);
  const [spot, setSpot] = useState<Spot | null>(null);
  const [said, setSaid] = useState<{ line: string; also: string } | null>(null);
  const [wrong, setWrong] = useState('');
  const [asking, setAsking] = useState(false);
  const setting = useMemo(() => {
    if (!parts) return null;
    return alone !== undefined ? settingAlone(parts, alone) : (set.weights ?? (changed ? null : settingNamed(parts, 'foretold')));
  }, [parts, set.weights, changed, alone]);
  const say = async (word: Word): Promise<void> => {
    if (!spot) return;
    setAsking(true);
    setWrong('');
    try {
      const goal =
        word === 'darker' || word === 'lighter'
          ? { goal: 'place_ev', value: word === 'darker' ? -THIRD_EV : THIRD_EV }
          : { goal: 'place_mired', value: word === 'warmer' ? WARMER_MIRED : -WARMER_MIRED };
      const wanted = await post<Wanted>(`${jobPath(live.job)}/want`, {
        places: [{ name: 'here', ...spot }], goals: [{ place: 'here', ...goal }], dials: set.dials,
      });
      if (wanted.state !== 'ready') {
        setWrong(wanted.sentence ?? text.wait);
        setAsking(false);
        return;
      }
      setSaid({ line: dialLine(wanted.dials), also: alsoChanges(wanted) });
      setSpot(null);
      take({
        dials: wanted.dials, kelvins_K: wanted.kelvins_K, why: text.dials.why(word),
        weights: wanted.setting ? settingOf(wanted.setting) : null,
      });
    } catch (error) {
      setWrong(troubleOf(error));
    }
    setAsking(false);
  };
  return (
    <section class="wrong-here">
      <h2>{text.dials.wrongHere}</h2>
      <div role="status" class="wrong-answer">
        {said ? (
          <p>
            <strong>{said.line}</strong> {said.also}
          </p>
        ) : (
          <p class="soft">{spot ? text.dials.sayWord : text.dials.touch}</p>
        )}
        {wrong ? <p class="wrong">{wrong}</p> : null}
      </div>
      <div class="mat four-corners">
        {parts && setting ? (
          <TouchPicture label={text.dials.wrongHere} ring={spot} onEscape={() => setSpot(null)}
            onTouch={(at) => {
              setSpot(at);
              setSaid(null);
            }}>
            <Weighed parts={parts} setting={setting}
              label={alone === undefined ? text.dials.pictureNow : text.oneLight.label(alone)} />
          </TouchPicture>
        ) : (
          <p class="hero-none">{parts ? text.dials.pictureLater : pictureWord(came)}</p>
        )}
        {spot
          ? CORNERS.map((word) => (
              <button key={word} type="button" class={`corner corner-${word}`} disabled={asking}
                onClick={() => void say(word)}>
                {text.dials.words[word]}
              </button>
            ))
          : null}
      </div>
    </section>
  );
}

function alsoChanges(wanted: Wanted): string {
  const others = wanted.changes.filter((change) => change.place !== 'here' && Math.abs(change.change_ev) >= 0.05);
  const missed = wanted.goals.map((goal) => goal.why_not).filter((why): why is string => why !== null);
  const line = others.map((change) => text.dials.also(text.place(change.place), signed(change.change_ev, 1)));
  return [...missed, others.length > 0 ? text.dials.alsoAll(line) : text.dials.alsoNothing].join(' ');
}

function ThreeWays({ live, answer, take }: {
  live: Live; answer: Answer; take: (setting: Setting) => void;
}): JSX.Element {
  const [chosen, setChosen] = useState(1);
  const { parts, came } = useParts(live, true);
  const way = answer.ways[Math.min(chosen, answer.ways.length - 1)];
  const setting = useMemo(() => (parts && way ? settingNamed(parts, way.name) : null), [parts, way?.name]);
  return (
    <section class="three-ways">
      <h2>{text.ways.title}</h2>
      <div class="three-ways-pair">
        <ol class="plain">
          {answer.ways.map((one, i) => (
            <li key={one.name} class={i === chosen ? 'chosen' : ''}>
              <WayWords way={one} />
              <p class="no-print">
                {i === chosen ? (
                  <button type="button" onClick={() => take({
                    dials: one.dials, kelvins_K: one.kelvins_K, why: text.ways.name(one.name),
                    weights: parts ? settingNamed(parts, one.name) : null,
                  })}>
                    {text.ways.take}
                  </button>
                ) : (
                  <button type="button" class="words" onClick={() => setChosen(i)}>
                    {text.ways.show(text.ways.name(one.name))}
                  </button>
                )}
              </p>
            </li>
          ))}
        </ol>
        <div class="mat">
          {parts && setting && way ? (
            <Weighed parts={parts} setting={setting} label={text.ways.picture(text.ways.name(way.name))} />
          ) : (
            <p class="hero-none">{pictureWord(came)}</p>
          )}
        </div>
      </div>
    </section>
  );
}

function WayWords({ way }: { way: Way }): JSX.Element {
  return (
    <>
      <h3>{text.ways.name(way.name)}</h3>
      <p class="way-dials">{dialLine(way.dials)}</p>
      <p>{text.ways.gives(way)}</p>
      {way.why_not ? <p>{way.why_not}</p> : null}
    </>
  );
}

