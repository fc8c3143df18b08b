// SPDX-License-Identifier: Apache-2.0
// The client's screen: one frame in the shape of its page, two equal words, and one line for why.
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { Frame, JobState } from '../api';
import type { Live } from '../live';
import { text } from '../text';
import { Cut, useCrops } from './crop-view';
import type { Crop } from './crop-view';
import './pass.css';

const WHOLE: Omit<Crop, 'outlet'> = {
  fits: true, sentence: null, left_ratio: 0, top_ratio: 0, width_ratio: 1, height_ratio: 1, reached_ppi: null,
};

export function Client({ live, state }: { live: Live; state: JobState }): JSX.Element {
  const takes = state.frames.filter((frame) => frame.role?.role === 'take');
  const [at, setAt] = useState<number | null>(null);
  const open = takes.findIndex((frame) => !state.choices.some((choice) => choice.frame === frame.id));
  const index = Math.min(at ?? (open < 0 ? takes.length - 1 : open), takes.length - 1);
  const frame = takes[index];
  if (!frame) {
    return (
      <div class="client">
        <p class="client-head soft">{text.client.none}</p>
      </div>
    );
  }
  return <OneFrame key={frame.id} live={live} state={state} frame={frame} index={index} of={takes.length} turn={setAt} />;
}

function OneFrame({ live, state, frame, index, of, turn }: {
  live: Live; state: JobState; frame: Frame; index: number; of: number; turn: (to: number | null) => void;
}): JSX.Element {
  const crops = useCrops(live, frame.id);
  const crop = crops.find((one) => one.fits) ?? { ...WHOLE, outlet: text.client.whole };
  const chosen = state.choices.find((choice) => choice.frame === frame.id);
  const [why, setWhy] = useState(chosen?.why ?? '');
  const choose = (yes: boolean): void => {
    live.change('choice', frame.id, { this: yes, why: why.trim() });
    if (index + 1 < of) turn(index + 1);
  };
  return (
    <div class="client">
      <p class="client-head">
        <span>
          {text.client.frame(index + 1, of)} <span class="soft">{crop.outlet}</span>
        </span>
        <span>
          {index > 0 ? (
            <button type="button" class="words" onClick={() => turn(index - 1)}>
              {text.client.earlier}
            </button>
          ) : null}{' '}
          {index + 1 < of ? (
            <button type="button" class="words" onClick={() => turn(index + 1)}>
              {text.client.next}
            </button>
          ) : null}
        </span>
      </p>
      <div class="client-page">
        <Cut live={live} frame={frame} crop={crop} />
      </div>
      <label class="line client-why">
        <span>{chosen ? text.client.said(chosen.this) : text.client.why}</span>
        <input value={why} maxLength={300} autocomplete="off" onInput={(event) => setWhy(event.currentTarget.value)} />
      </label>
      <div class="client-words">
        <button type="button" aria-pressed={chosen?.this === true} onClick={() => choose(true)}>
          {text.client.this}
        </button>
        <button type="button" aria-pressed={chosen?.this === false} onClick={() => choose(false)}>
          {text.client.notThis}
        </button>
      </div>
    </div>
  );
}
