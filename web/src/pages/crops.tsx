// SPDX-License-Identifier: Apache-2.0
// Same size: every outlet at the same scale, one printed scale beneath, fold and type band hatched in pencil.
import type { JSX } from 'preact';
import { useContext, useEffect, useState } from 'preact/hooks';
import { viewPath } from '../api';
import type { Frame, JobState, Outlet } from '../api';
import { LengthsContext } from '../booklet';
import type { Live } from '../live';
import { text } from '../text';
import type { Lengths } from '../units';
import { useCrops } from './crop-view';
import type { Crop } from './crop-view';
import { NewOutlet } from './new-outlet';
import { latestTake } from './pass';
import { outletSize } from './prep';
import './crops.css';

export function Crops({ live, state }: { live: Live; state: JobState }): JSX.Element {
  const frame = latestTake(state);
  const crops = useCrops(live, frame?.id ?? null);
  const pages = state.outlets.filter((outlet) => outlet.size_mm);
  const screens = state.outlets.filter((outlet) => !outlet.size_mm && outlet.size_px);
  return (
    <>
      {state.outlets.length === 0 ? <p class="column">{text.crops.none}</p> : null}
      {state.outlets.length > 0 && !frame ? <p class="column">{text.crops.noFrame}</p> : null}
      {frame && state.outlets.length > 0 ? <p class="soft">{text.crops.of(frame.name)}</p> : null}
      <Sheet live={live} frame={frame} crops={crops} outlets={pages} scale="mm" />
      {screens.length > 0 ? <h2>{text.crops.screens}</h2> : null}
      <Sheet live={live} frame={frame} crops={crops} outlets={screens} scale="px" />
      <NewOutlet live={live} />
    </>
  );
}

const sizeOf = (outlet: Outlet): readonly [number, number] => {
  const [w = 1, h = 1] = outlet.size_mm ?? outlet.size_px ?? [];
  return [w, h];
};

function Sheet({ live, frame, crops, outlets, scale }: {
  live: Live; frame: Frame | null; crops: readonly Crop[]; outlets: readonly Outlet[]; scale: 'mm' | 'px';
}): JSX.Element | null {
  const { lengths } = useContext(LengthsContext);
  if (outlets.length === 0) return null;
  const widest = Math.max(...outlets.map((outlet) => sizeOf(outlet)[0]));
  return (
    <section class="same-size">
      <div class="same-size-row">
        {outlets.map((outlet) => (
          <figure key={outlet.name} style={{ '--share': sizeOf(outlet)[0] / widest }}>
            <Drawn live={live} frame={frame} outlet={outlet}
              crop={crops.find((crop) => crop.outlet === outlet.name) ?? null} />
            <Caption outlet={outlet} crop={crops.find((crop) => crop.outlet === outlet.name) ?? null} lengths={lengths} />
          </figure>
        ))}
      </div>
      <Scale widest={widest} scale={scale} lengths={lengths} />
    </section>
  );
}

/** The sentence stands under the name already. */
function afterName(crop: Crop): string {
  const begins = `${crop.outlet}: `;
  return crop.sentence?.startsWith(begins) ? crop.sentence.slice(begins.length) : (crop.sentence ?? '');
}

function Caption({ outlet, crop, lengths }: { outlet: Outlet; crop: Crop | null; lengths: Lengths }): JSX.Element {
  return (
    <figcaption>
      <strong>{outlet.name}</strong> <span class="soft">{outletSize(outlet, lengths)}</span>
      {crop?.sentence ? <span class={`crop-says${crop.fits ? '' : ' pencil'}`}>{afterName(crop)}</span> : null}
    </figcaption>
  );
}

/** The outlet as it will be trimmed; what lies in the bleed is cut away. */
function Drawn({ live, frame, outlet, crop }: {
  live: Live; frame: Frame | null; outlet: Outlet; crop: Crop | null;
}): JSX.Element {
  const [w, h] = sizeOf(outlet);
  const bleed = outlet.size_mm ? (outlet.bleed_mm ?? 0) : 0;
  const line = Math.max(w, h) / 400;
  const id = `hatch-${outlet.name.replace(/[^A-Za-z0-9]/g, '-')}`;
  const fold = outlet.fold_at ? outlet.fold_at * w : null;
  const clear = outlet.fold_clear_mm ?? 0;
  const band = ((outlet.clear_top_pct ?? 0) / 100) * h;
  return (
    <svg viewBox={`0 0 ${w} ${h}`} role="img" aria-label={text.crops.drawn(outlet.name)} class="outlet-drawn">
      <defs>
        <pattern id={id} width={line * 7} height={line * 7} patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
          <path d={`M0 0V${line * 7}`} stroke="#fff" stroke-opacity="0.75" stroke-width={line * 3} />
          <path d={`M0 0V${line * 7}`} stroke="#333" stroke-width={line * 1.1} />
        </pattern>
      </defs>
      <rect width={w} height={h} fill="#e2e2e2" />
      {frame && crop?.fits ? <Inside live={live} frame={frame} crop={crop} w={w} h={h} bleed={bleed} /> : null}
      {band > 0 ? <rect width={w} height={band} fill={`url(#${id})`} /> : null}
      {fold !== null && clear > 0 ? (
        <rect x={fold - clear} width={2 * clear} height={h} fill={`url(#${id})`} />
      ) : null}
      {fold !== null ? <path d={`M${fold} 0V${h}`} stroke="#222" stroke-width={line} /> : null}
      <rect x={line / 2} y={line / 2} width={w - line} height={h - line} fill="none" stroke="#222" stroke-width={line} />
    </svg>
  );
}

function Inside({ live, frame, crop, w, h, bleed }: {
  live: Live; frame: Frame; crop: Crop; w: number; h: number; bleed: number;
}): JSX.Element | null {
  const [size, setSize] = useState<[number, number] | null>(null);
  const src = viewPath(live.job, frame.id, 1280);
  useEffect(() => {
    const image = new Image();
    image.onload = () => setSize([image.naturalWidth, image.naturalHeight]);
    image.src = src;
    return () => {
      image.onload = null;
    };
  }, [src]);
  if (!size) return null;
  const box = [
    crop.left_ratio * size[0], crop.top_ratio * size[1], crop.width_ratio * size[0], crop.height_ratio * size[1],
  ];
  return (
    <svg x={-bleed} y={-bleed} width={w + 2 * bleed} height={h + 2 * bleed} viewBox={box.join(' ')}
      preserveAspectRatio="none" overflow="hidden">
      <image href={src} width={size[0]} height={size[1]} preserveAspectRatio="none" />
    </svg>
  );
}

/** One scale for the sheet, as printed on a map. */
function Scale({ widest, scale, lengths }: { widest: number; scale: 'mm' | 'px'; lengths: Lengths }): JSX.Element {
  const inch = scale === 'mm' && lengths === 'inch';
  const unit = inch ? 25.4 : scale === 'mm' ? 10 : 100;
  const wanted = widest * 0.6;
  const steps = Math.max(1, Math.min(10, Math.floor(wanted / unit)));
  const each = Math.max(1, Math.round(wanted / unit / steps));
  const total = steps * each * unit;
  const word = inch ? `${steps * each} in` : scale === 'mm' ? `${steps * each} cm` : text.crops.px(total);
  return (
    <p class="scale">
      <svg style={{ '--share': total / widest }} viewBox="0 0 1000 24" preserveAspectRatio="none"
        aria-hidden="true">
        <path d={`M1 4V20M999 4V20M0 12H1000${Array.from({ length: steps - 1 }, (_, i) =>
          `M${((i + 1) * 1000) / steps} 7V17`).join('')}`} stroke="#222" fill="none" stroke-width="2"
          vector-effect="non-scaling-stroke" />
      </svg>
      <span>{word}</span>
    </p>
  );
}
