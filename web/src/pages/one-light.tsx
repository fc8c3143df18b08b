// SPDX-License-Identifier: Apache-2.0
// One large picture at a time: what one light alone gives, asked for in words.
import type { JSX } from 'preact';
import { useMemo, useState } from 'preact/hooks';
import type { Live } from '../live';
import { text } from '../text';
import type { Answer } from '../weigh';
import { Weighed } from '../weighed/weighed';
import { settingAlone, useParts } from '../weighed/use-parts';
import { pictureWord } from '../weighed/word';

export function OneLight({ live, answer }: { live: Live; answer: Answer }): JSX.Element {
  const names = answer.lights.map((light) => light.name);
  const [alone, setAlone] = useState<string | null>(names[0] ?? null);
  const { parts, came } = useParts(live, true);
  const setting = useMemo(() => (parts ? settingAlone(parts, alone) : null), [parts, alone]);
  return (
    <section class="one-light">
      <h3>{text.oneLight.title}</h3>
      <p class="touch-words no-print">
        {names.map((name) => (
          <button key={name} type="button" class="words" aria-pressed={alone === name} onClick={() => setAlone(name)}>
            {text.oneLight.show(name)}
          </button>
        ))}
        <button type="button" class="words" aria-pressed={alone === null} onClick={() => setAlone(null)}>
          {text.oneLight.showAmbient}
        </button>
      </p>
      <div class="mat">
        {parts && setting ? (
          <Weighed parts={parts} setting={setting} label={text.oneLight.label(alone)} />
        ) : (
          <p class="hero-none">{pictureWord(came)}</p>
        )}
      </div>
    </section>
  );
}
