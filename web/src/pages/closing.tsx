// SPDX-License-Identifier: Apache-2.0
// The closing check: what was foretold beside what the frame shows, and a grey picture of what differs.
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import { jobPath } from '../api';
import type { Live } from '../live';
import { text } from '../text';
import { plain, signed, within } from '../units';
import type { Answer } from '../weigh';

export function ClosingCheck({ live, answer }: { live: Live; answer: Answer | null }): JSX.Element {
  const rows = answer?.actual;
  return (
    <section class="closing">
      <h2>{text.closing.title}</h2>
      {!rows ? <p>{text.closing.none}</p> : null}
      {rows ? (
        <table class="column">
          <caption class="hidden-words">{text.closing.title}</caption>
          <thead>
            <tr>
              <th scope="col">{text.closing.at}</th>
              <th scope="col" class="figure">{text.closing.foretold}</th>
              <th scope="col" class="figure">{text.closing.actual}</th>
            </tr>
          </thead>
          <tbody>
            {rows.map((row) => (
              <tr key={row.place}>
                <th scope="row">{text.place(row.place)}</th>
                <td class="figure">{within(row.foretold_ev, row.foretold_ev_tolerance, 'EV')}</td>
                <td class="figure">{row.actual_ev === null ? text.closing.clipped : `${plain(row.actual_ev, 2)} EV`}</td>
              </tr>
            ))}
          </tbody>
        </table>
      ) : null}
      {answer?.closing ? <Verdict live={live} closing={answer.closing} /> : null}
    </section>
  );
}

function Verdict({ live, closing }: { live: Live; closing: NonNullable<Answer['closing']> }): JSX.Element {
  const [missing, setMissing] = useState(false);
  const off = closing.lights.filter(
    (light) => light.off_ev !== null && Math.abs(light.off_ev) > (light.off_ev_tolerance ?? 0),
  );
  return (
    <>
      <p class="column">
        {text.closing.within(plain(closing.median_difference_ev, 2), plain(closing.nine_tenths_within_ev, 2))}{' '}
        {off.map((light) => text.closing.off(light.name, signed(light.off_ev ?? 0, 2))).join(' ')}{' '}
        {closing.exposure_blamed ? text.closing.exposure(signed(closing.exposure_ev, 2)) : ''}
      </p>
      {missing ? null : (
        <figure>
          <div class="mat">
            <img src={`${jobPath(live.job)}/residual.jpg?answers=${live.answers}`} alt={text.closing.residual}
              onError={() => setMissing(true)} />
          </div>
          <figcaption class="soft small">{text.closing.residualSay}</figcaption>
        </figure>
      )}
    </>
  );
}
