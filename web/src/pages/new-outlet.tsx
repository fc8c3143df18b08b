// SPDX-License-Identifier: Apache-2.0
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { Live } from '../live';
import { text } from '../text';

const number = (data: FormData, name: string): number => Number(String(data.get(name) ?? '').trim().replace(',', '.'));

export function NewOutlet({ live }: { live: Live }): JSX.Element {
  const [wrong, setWrong] = useState('');
  const write = (event: JSX.TargetedSubmitEvent<HTMLFormElement>): void => {
    event.preventDefault();
    const form = event.currentTarget;
    const data = new FormData(form);
    const name = String(data.get('name') ?? '').trim();
    const size = [number(data, 'width'), number(data, 'height')];
    if (!name) return setWrong(text.newOutlet.nameMissing);
    if (!size.every((side) => side > 0)) return setWrong(text.newOutlet.sizeWrong);
    setWrong('');
    const bleed_mm = number(data, 'bleed');
    const clear_top_pct = number(data, 'type');
    const page = data.get('unit') !== 'px';
    live.change('outlet', name, {
      ...(page ? { size_mm: size } : { size_px: size }),
      ...(page && bleed_mm > 0 ? { bleed_mm } : {}),
      ...(clear_top_pct > 0 ? { clear_top_pct } : {}),
      ...(page && data.get('fold') ? { fold_at: 0.5, fold_clear_mm: 12 } : {}),
    });
    form.reset();
    return undefined;
  };
  return (
    <form class="column no-print new-outlet" onSubmit={write} noValidate>
      <h2>{text.newOutlet.title}</h2>
      <label class="line">
        <span>{text.newOutlet.name}</span>
        <input name="name" placeholder={text.newOutlet.nameHint} autocomplete="off" maxLength={60} />
      </label>
      <div class="new-outlet-sizes">
        <label class="line">
          <span>{text.newOutlet.width}</span>
          <input name="width" inputMode="decimal" autocomplete="off" maxLength={7} />
        </label>
        <label class="line">
          <span>{text.newOutlet.height}</span>
          <input name="height" inputMode="decimal" autocomplete="off" maxLength={7} />
        </label>
        <label class="line">
          <span>{text.newOutlet.unit}</span>
          <select name="unit">
            <option value="mm">{text.newOutlet.mm}</option>
            <option value="px">{text.newOutlet.px}</option>
          </select>
        </label>
        <label class="line">
          <span>{text.newOutlet.bleed}</span>
          <input name="bleed" inputMode="decimal" autocomplete="off" maxLength={5} />
        </label>
        <label class="line">
          <span>{text.newOutlet.type}</span>
          <input name="type" inputMode="decimal" autocomplete="off" maxLength={4} />
        </label>
      </div>
      <fieldset>
        <label>
          <input type="checkbox" name="fold" />
          {text.newOutlet.fold}
        </label>
      </fieldset>
      <div role="alert">{wrong ? <p class="wrong">{wrong}</p> : null}</div>
      <button type="submit">{text.newOutlet.write}</button>
    </form>
  );
}
