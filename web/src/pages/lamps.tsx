// SPDX-License-Identifier: Apache-2.0
// Lamp sheets: what is measured of each lamp, a paragraph each.
import type { JSX } from 'preact';
import type { JobState } from '../api';
import type { Live } from '../live';
import { text } from '../text';
import { dial, within } from '../units';
import { Link } from '../way';
import { useWeigh } from '../weigh';
import type { WeighedLight } from '../weigh';
import './lamps.css';

export function Lamps({ live, state, base }: { live: Live; state: JobState; base: string }): JSX.Element {
  const weigh = useWeigh(live);
  const answer = weigh?.answer;
  if (!answer) {
    return (
      <p class="column" role="status">
        {weigh?.state === 'working' ? text.weigh.working(weigh.doing, weigh.done_ratio) : (weigh?.sentence ?? text.wait)}{' '}
        {weigh?.state === 'needs' ? (
          <Link to={`${base}intake`}>{state.frames.length === 0 ? text.prep.toFrames : text.prep.toTouches}</Link>
        ) : null}
      </p>
    );
  }
  return (
    <>
      <p class="column soft">{text.lamps.say}</p>
      <div class="lamps">
        {answer.lights.map((light) => (
          <LampSheet key={light.name} light={light} />
        ))}
      </div>
    </>
  );
}

function LampSheet({ light }: { light: WeighedLight }): JSX.Element {
  const rows: [string, string][] = [
    [text.lamps.kind, light.flash ? text.lamps.flash : text.lamps.steady],
    [text.lamps.dial, text.lamps.dialIs(dial(light.dial_ratio), light.dial_tolerance_pct)],
    [text.lamps.colour, text.weigh.mired(light.mired_from_ambient, light.mired_from_ambient_tolerance)],
  ];
  if (light.tint_duv !== null)
    rows.push([text.lamps.tint, text.weigh.duv(light.tint_duv, light.tint_duv_tolerance)]);
  if (light.greycard_lx !== null)
    rows.push([text.lamps.card, within(light.greycard_lx, light.greycard_lx_tolerance, 'lx')]);
  rows.push([text.lamps.hero, within(100 * light.hero_share_ratio, 100 * light.hero_share_ratio_tolerance, '%')]);
  rows.push([
    text.lamps.surface, within(100 * light.surface_share_ratio, 100 * light.surface_share_ratio_tolerance, '%'),
  ]);
  if (light.clipped_pct !== null && light.clipped_pct > 0.05)
    rows.push([text.lamps.clipped, `${light.clipped_pct.toFixed(1)} %`]);
  return (
    <section>
      <h2>{light.name}</h2>
      <dl>
        {rows.map(([name, value]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
      <p class="aside-voice small">{text.lamps.caution}</p>
    </section>
  );
}
