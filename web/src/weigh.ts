// SPDX-License-Identifier: Apache-2.0
// The answers about the light, as docs/json.md describes them, and when they are there.
import { useEffect, useState } from 'preact/hooks';
import { get, jobPath } from './api';
import type { Live } from './live';
import type { PartsSetting } from './weighed/parts';

export interface WeighedLight {
  name: string; flash: boolean; dial_ratio: number; dial_tolerance_pct: number;
  hero_share_ratio: number; hero_share_ratio_tolerance: number;
  surface_share_ratio: number; surface_share_ratio_tolerance: number;
  mired_from_ambient: number | null; mired_from_ambient_tolerance: number | null;
  tint_duv: number | null; tint_duv_tolerance: number | null;
  greycard_lx: number | null; greycard_lx_tolerance: number | null; clipped_pct: number | null;
}
export interface Way {
  name: string; dials: Record<string, number>; kelvins_K: Record<string, number>;
  surface_under_hero_light_stops: number; key_to_fill_stops: number; exposure_change_ev: number; reached: boolean;
  why_not: string | null;
}
export interface Closing {
  exposure_ev: number; exposure_ev_tolerance: number; exposure_blamed: boolean; ambient_ev: number | null;
  ambient_ev_tolerance: number | null;
  lights: { name: string; off_ev: number | null; off_ev_tolerance: number | null }[];
  median_difference_ev: number; nine_tenths_within_ev: number;
}
export interface Answer {
  shutter_s: number | null; lights: WeighedLight[];
  ambient_hero_share_ratio: number; ambient_hero_share_ratio_tolerance: number;
  ambient_surface_share_ratio: number; ambient_surface_share_ratio_tolerance: number;
  key: string | null; key_to_fill_stops: number; key_to_fill_stops_tolerance: number;
  hero_over_surface_picture_stops: number | null; hero_over_surface_picture_stops_tolerance: number | null;
  hero_over_surface_light_stops: number; hero_over_surface_light_stops_tolerance: number;
  floor_stops: number | null; floor_stops_tolerance: number | null;
  flash_floor_stops: number | null; flash_floor_stops_tolerance: number | null;
  greycard_lx: number | null; greycard_lx_tolerance: number | null;
  ambient_lx: number | null; ambient_lx_tolerance: number | null;
  second_shadow_light: string | null; second_shadow_stops: number | null; second_shadow_stops_tolerance: number | null;
  ambient_drift_pct: number; hand_held: boolean; ways: Way[]; notes: string[];
  actual?: { place: string; foretold_ev: number; foretold_ev_tolerance: number; actual_ev: number | null }[];
  closing?: Closing;
}
export interface Weigh {
  state: 'ready' | 'working' | 'needs' | 'refused'; sentence: string | null; doing: string | null;
  done_ratio: number | null; answer: Answer | null;
}
export interface Wanted {
  state: string; dials: Record<string, number>; kelvins_K: Record<string, number>; dials_light_tolerance_pct: number;
  goals: { goal: string; place: string; wanted: number; reached: number; miss_ev: number; why_not: string | null }[];
  changes: { place: string; change_ev: number; change_mired: number | null }[];
  sentence?: string | null;
  /** How the picture of these dials is weighed. */
  setting?: PartsSetting;
}

/** Asked for again whenever the server says that they changed. */
export function useWeigh(live: Live): Weigh | null {
  const [weigh, setWeigh] = useState<Weigh | null>(null);
  const rev = live.shown?.rev ?? -1;
  const working = weigh?.state === 'working';
  useEffect(() => {
    if (rev < 0) return undefined;
    let gone = false;
    let timer: ReturnType<typeof setTimeout> | undefined;
    const look = (): void => {
      get<Weigh>(`${jobPath(live.job)}/weigh`).then(
        (answer) => {
          if (gone) return;
          setWeigh(answer);
          if (answer.state === 'working') timer = setTimeout(look, 1500);
        },
        () => undefined,
      );
    };
    // A change may set off reckoning; one request for a burst of them.
    timer = setTimeout(look, working ? 400 : 120);
    return () => {
      gone = true;
      clearTimeout(timer);
    };
  }, [live, rev, live.answers, live.net]);
  return weigh;
}
