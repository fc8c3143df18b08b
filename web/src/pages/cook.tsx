// SPDX-License-Identifier: Apache-2.0
// The cook's phone: one line now, one line next, the same clock.
import type { JSX } from 'preact';
import type { JobState, Plate, Role } from '../api';
import { useClock, useLife } from '../clockwork';
import type { Live } from '../live';
import { furthest, plateOn, shotNext } from '../plates';
import type { Life } from '../plates';
import { text } from '../text';
import { inAbout } from '../units';
import { Band, Pad } from './pass';
import './pass.css';

export function Cook({ live, state, role }: { live: Live; state: JobState; role: Role }): JSX.Element {
  const clock = useClock(live);
  const life = useLife(live, state, clock);
  const plate = plateOn(state);
  return (
    <div class="pass cook">
      <Band state={state} plate={plate} life={life} now_ms={live.now()} />
      <section class="cook-lines" role="status">
        <p class="cook-now">
          <span class="when">{text.cook.now}</span>
          {nowLine(state, plate)}
        </p>
        <p class="cook-next">
          <span class="when">{text.cook.next}</span>
          {nextLine(state, plate, life)}
        </p>
      </section>
      <Pad live={live} state={state} plate={plate} role={role === 'photographer' ? 'cook' : role} />
    </div>
  );
}

function nowLine(state: JobState, plate: Plate | null): string {
  const far = plate ? furthest(plate) : null;
  if (!plate || !far) return state.shots.length === 0 ? text.cook.noShots : text.cook.rest;
  return text.cook.at[far](plate.dish);
}

function nextLine(state: JobState, plate: Plate | null, life: Life | null): string {
  const shot = shotNext(state);
  if (!shot) return text.cook.noMore;
  const dish = shot.dish || shot.id;
  const far = plate ? furthest(plate) : null;
  if (far === 'have_it') return text.cook.fireNow(dish);
  if (life && life.left_s > 0) return text.cook.fireIn(dish, inAbout(life.left_s));
  return plate ? text.cook.after(dish) : text.cook.standBy(dish);
}
