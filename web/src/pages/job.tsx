// SPDX-License-Identifier: Apache-2.0
// The leaves of one job. It opens at what the clock says is next.
import type { ComponentChildren, JSX } from 'preact';
import { useEffect } from 'preact/hooks';
import type { JobState, Me, Shot } from '../api';
import { Booklet } from '../booklet';
import type { Leaf } from '../booklet';
import { useAlarm, useClock, useLife } from '../clockwork';
import { useLive } from '../live';
import type { Live } from '../live';
import { plateOn } from '../plates';
import { text } from '../text';
import { Trouble } from '../trouble';
import { useDrop } from '../uploads';
import { day } from '../units';
import { go, Link } from '../way';
import { Client } from './client';
import { Cook } from './cook';
import { Crops } from './crops';
import { DialsPage } from './dials';
import { Intake } from './intake';
import { Join } from './join';
import { Lamps } from './lamps';
import { Pass } from './pass';
import { Prep } from './prep';

const LEAVES_OF_OTHERS: Record<'cook' | 'client', readonly string[]> = { cook: ['cook'], client: ['client'] };

export function leavesOf(base: string, state: JobState | null, me: Me): Leaf[] {
  const prep: [string, string][] =
    state && state.shots.length > 0
      ? state.shots.map((shot): [string, string] => [`prep/${encodeURIComponent(shot.id)}`, text.pages.prep(shot.id)])
      : [['prep', text.pages.prep('')]];
  const all: [string, string][] = [
    ['intake', text.pages.intake], ...prep, ['dials', text.pages.dials], ['pass', text.pages.pass],
    ['crops', text.pages.crops], ['lamps', text.pages.lamps], ['cook', text.pages.cook],
    ['client', text.pages.client], ['join', text.pages.join],
  ];
  const mine = me.role === 'cook' || me.role === 'client' ? LEAVES_OF_OTHERS[me.role] : null;
  return all.filter(([path]) => !mine || mine.includes(path)).map(([path, name]) => ({ to: base + path, name }));
}

/** What is next: a plate on set before everything, then frames, touches, dials, and at last the pass. */
export function whatIsNext(state: JobState, me: Me): string {
  if (me.role === 'cook' || me.role === 'client') return me.role;
  if (plateOn(state)) return 'pass';
  const touched = (subject: string): boolean => state.touches.some((touch) => touch.subject === subject);
  if (state.frames.length === 0 || !touched('hero') || !touched('surface')) return 'intake';
  if (state.dials === null) return 'dials';
  return 'pass';
}

export function JobPages({ job, leaf, me }: { job: string; leaf: string; me: Me }): JSX.Element {
  const live = useLive(job);
  const state = live.shown;
  const base = `/job/${encodeURIComponent(job)}/`;
  const opening = leaf === '' && state !== null ? whatIsNext(state, me) : null;
  const dropping = useDrop(me.role === 'photographer' ? job : null, () => go(`${base}intake`));
  useEffect(() => {
    if (opening !== null) {
      history.replaceState(null, '', base + opening);
      window.dispatchEvent(new PopStateEvent('popstate'));
    }
  }, [opening, base]);
  const leaves = leavesOf(base, state, me);
  const net = <NetWords live={live} />;
  if (!state) {
    return (
      <Booklet title={text.name} net={net}>
        {live.trouble ? <Trouble of={live.trouble} /> : <p class="soft">{text.wait}</p>}
      </Booklet>
    );
  }
  return (
    <>
      <Alarm live={live} state={state} />
      {dropping ? <p class="drop-over">{text.intake.letGo}</p> : null}
      <Leafed live={live} state={state} base={base} leaf={leaf} me={me} leaves={leaves} net={net} />
    </>
  );
}

/** Every screen sounds the alarm, whatever page it is on. */
function Alarm({ live, state }: { live: Live; state: JobState }): null {
  const clock = useClock(live);
  useAlarm(useLife(live, state, clock));
  return null;
}

function NetWords({ live }: { live: Live }): JSX.Element | null {
  const waiting = live.queue.waiting(live.job).length;
  const { trouble, net, said } = live;
  if (net === 'lost') {
    return (
      <span>
        {live.lostLong() ? text.net.lostLong : text.net.lost} {waiting > 0 ? text.net.waiting(waiting) : ''}
      </span>
    );
  }
  if (trouble && live.shown) {
    return (
      <span>
        {text.net.notJoined} <Link to="/join">{text.net.join}</Link>
      </span>
    );
  }
  return said ? <span>{said}</span> : null;
}

function Leafed({ live, state, base, leaf, me, leaves, net }: {
  live: Live; state: JobState; base: string; leaf: string; me: Me; leaves: Leaf[]; net: ComponentChildren;
}): JSX.Element {
  const head = state.job.title || live.job;
  const place = state.job.date ? day(state.job.date) : '';
  const common = { head, place, leaves, here: base + leaf, net };
  const shot = leaf.startsWith('prep/') ? state.shots.find((one) => one.id === decodeURIComponent(leaf.slice(5))) : null;
  switch (leaf.split('/')[0]) {
    case '':
      return (
        <Booklet title={head} {...common}>
          <p class="soft">{text.wait}</p>
        </Booklet>
      );
    case 'intake':
      return (
        <Booklet title={text.pages.intake} {...common}>
          <Intake live={live} state={state} base={base} />
        </Booklet>
      );
    case 'prep':
      return (
        <Booklet title={prepTitle(shot ?? null)} {...common} narrow>
          <Prep live={live} state={state} base={base} shot={shot ?? null} />
        </Booklet>
      );
    case 'dials':
      return (
        <Booklet title={text.pages.dials} {...common}>
          <DialsPage live={live} state={state} base={base} />
        </Booklet>
      );
    case 'pass':
      return (
        <Booklet title={text.pages.pass} {...common} bare>
          <Pass live={live} state={state} />
        </Booklet>
      );
    case 'cook':
      return (
        <Booklet title={text.pages.cook} {...common} bare>
          <Cook live={live} state={state} role={me.role ?? 'cook'} />
        </Booklet>
      );
    case 'client':
      return (
        <Booklet title={text.pages.client} {...common} bare>
          <Client live={live} state={state} />
        </Booklet>
      );
    case 'crops':
      return (
        <Booklet title={text.pages.crops} {...common}>
          <Crops live={live} state={state} />
        </Booklet>
      );
    case 'lamps':
      return (
        <Booklet title={text.pages.lamps} {...common}>
          <Lamps live={live} state={state} base={base} />
        </Booklet>
      );
    case 'join':
      return <Join me={me} joined={() => go('/')} leaves={leaves} here={base + leaf} head={head} />;
    default:
      return (
        <Booklet title={text.nowhere.title} {...common}>
          <p>{text.nowhere.say}</p>
        </Booklet>
      );
  }
}

function prepTitle(shot: Shot | null): string {
  return shot ? shot.dish || text.pages.prep(shot.id) : text.pages.prep('');
}
