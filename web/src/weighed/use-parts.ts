// SPDX-License-Identifier: Apache-2.0
import { useEffect, useState } from 'preact/hooks';
import type { Live } from '../live';
import { partsOf } from './parts';
import type { Parts, PartsSetting } from './parts';
import { times } from './show';
import type { Setting } from './show';
import type { Came } from './word';

/** wanted: only where a picture is to be seen, as parts weigh tens of megabytes. */
export function useParts(live: Live, wanted: boolean): { parts: Parts | null; came: Came } {
  const [parts, setParts] = useState<Parts | null>(null);
  const [came, setCame] = useState<Came>({ ratio: 0, trouble: null });
  // Dials that were set, and frames and touches, make another answer.
  const shown = live.shown;
  const version = JSON.stringify([live.answers, shown?.dials?.dials, shown?.frames.length, shown?.touches]);
  useEffect(() => {
    if (!wanted) return undefined;
    let gone = false;
    partsOf(live.job, version, (ratio) => !gone && setCame({ ratio, trouble: null })).then(
      (got) => !gone && setParts(got),
      (trouble: unknown) => !gone && setCame({ ratio: 0, trouble }),
    );
    return () => {
      gone = true;
    };
  }, [live, wanted, version]);
  return { parts, came };
}

/** A setting that came with the parts: the one foretold, or one of the three ways. */
export function settingNamed(parts: Parts, name: string): Setting | null {
  const found = parts.head.settings.find((one) => one.name === name);
  return found ? settingOf(found) : null;
}

export function settingOf({ weights, srgb_from_camera, exposure_ratio }: PartsSetting): Setting {
  return { weights, matrix: times(srgb_from_camera, exposure_ratio) };
}

/** One light as it is set, at full where it is off; null: the ambient alone. */
export function settingAlone(parts: Parts, alone: string | null): Setting {
  const { head } = parts;
  const set = head.settings.find((one) => one.name === 'foretold');
  const weights = [alone === null ? 1 : 0];
  const off = head.parts.every((part, i) => part.light !== alone || !((set?.weights[i + 1] ?? 0) > 0));
  head.parts.forEach((part, i) => {
    weights.push(part.light !== alone ? 0 : off ? part.per_full : (set?.weights[i + 1] ?? 0));
  });
  return { weights, matrix: head.srgb_from_camera };
}
