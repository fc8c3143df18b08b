// SPDX-License-Identifier: Apache-2.0
// One line of the shot list, written down.
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { JobState } from '../api';
import type { Live } from '../live';
import { text } from '../text';

const LOOKS = ['airy', 'middle', 'dark'] as const;
const CLASSES = ['leaf', 'clear soup', 'sauce', 'foam', 'ice', 'bake', 'glass'] as const;

export function NewShot({ live, state }: { live: Live; state: JobState }): JSX.Element {
  const [wrong, setWrong] = useState('');
  const write = (event: JSX.TargetedSubmitEvent<HTMLFormElement>): void => {
    event.preventDefault();
    const form = event.currentTarget;
    const data = new FormData(form);
    const dish = String(data.get('dish') ?? '').trim();
    const angle = String(data.get('angle') ?? '').trim().replace(',', '.');
    if (!dish) return setWrong(text.newShot.dishMissing);
    if (angle && !(Number(angle) >= 0 && Number(angle) <= 90)) return setWrong(text.newShot.angleWrong);
    setWrong('');
    live.change('shot', `S${state.shots.length + 1}`, {
      dish, look: String(data.get('look') ?? '') || null, angle_deg: angle ? Number(angle) : null,
      dish_class: String(data.get('class') ?? ''), outlets: data.getAll('outlet').map(String), tallest_mm: null,
    });
    form.reset();
    return undefined;
  };
  return (
    <form class="column no-print new-shot" onSubmit={write} noValidate>
      <h2>{text.newShot.title}</h2>
      <label class="line">
        <span>{text.newShot.dish}</span>
        <input name="dish" placeholder={text.newShot.dishHint} autocomplete="off" maxLength={120} />
      </label>
      <label class="line">
        <span>{text.newShot.look}</span>
        <select name="look">
          <option value="">{text.newShot.classNone}</option>
          {LOOKS.map((one) => (
            <option key={one} value={one}>
              {text.newShot.looks[one]}
            </option>
          ))}
        </select>
      </label>
      <div class="new-shot-pair">
        <label class="line">
          <span>{text.newShot.angle}</span>
          <input name="angle" inputMode="decimal" autocomplete="off" maxLength={5} />
        </label>
        <label class="line">
          <span>{text.newShot.class}</span>
          <select name="class">
            <option value="">{text.newShot.classNone}</option>
            {CLASSES.map((one) => (
              <option key={one} value={one}>
                {text.newShot.classes[one]}
              </option>
            ))}
          </select>
        </label>
      </div>
      {state.outlets.length > 0 ? (
        <fieldset>
          <legend>{text.newShot.outlets}</legend>
          {state.outlets.map((outlet) => (
            <label key={outlet.name}>
              <input type="checkbox" name="outlet" value={outlet.name} />
              {outlet.name}
            </label>
          ))}
        </fieldset>
      ) : null}
      <div role="alert">{wrong ? <p class="wrong">{wrong}</p> : null}</div>
      <button type="submit">{text.newShot.write}</button>
    </form>
  );
}
