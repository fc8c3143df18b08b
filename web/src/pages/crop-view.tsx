// SPDX-License-Identifier: Apache-2.0
// A frame cut to an outlet's shape.
import type { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { get, jobPath, viewPath } from '../api';
import type { Frame } from '../api';
import type { Live } from '../live';
import { text } from '../text';

/** In shares of the frame; where there is none, the sentence proves it. */
export interface Crop {
  outlet: string; fits: boolean; sentence: string | null;
  left_ratio: number; top_ratio: number; width_ratio: number; height_ratio: number; reached_ppi: number | null;
}
export interface CropsSaid {
  frame_px: [number, number];
  crops: {
    outlet: string; fits: boolean; sentence: string | null; at_px?: [number, number]; size_px?: [number, number];
    reached_ppi?: number | null;
  }[];
}

export function cropsOf(said: CropsSaid): Crop[] {
  const [w, h] = said.frame_px;
  return said.crops.map((crop) => {
    const [x, y] = crop.at_px ?? [0, 0];
    const [wide, high] = crop.size_px ?? [w, h];
    return {
      outlet: crop.outlet, fits: crop.fits && crop.size_px !== undefined, sentence: crop.sentence, left_ratio: x / w,
      top_ratio: y / h, width_ratio: wide / w, height_ratio: high / h, reached_ppi: crop.reached_ppi ?? null,
    };
  });
}

export function useCrops(live: Live, frame: string | null): Crop[] {
  const [crops, setCrops] = useState<Crop[]>([]);
  const outlets = JSON.stringify(live.shown?.outlets ?? []);
  const touches = JSON.stringify(live.shown?.touches ?? []);
  useEffect(() => {
    if (frame === null) return undefined;
    let gone = false;
    get<CropsSaid>(`${jobPath(live.job)}/crops?frame=${encodeURIComponent(frame)}`).then(
      (answer) => {
        if (!gone) setCrops(cropsOf(answer));
      },
      () => undefined,
    );
    return () => {
      gone = true;
    };
  }, [live, frame, outlets, touches]);
  return crops;
}

/** Only what is inside the crop is drawn. */
export function Cut({ live, frame, crop, width = 1600 }: {
  live: Live; frame: Frame; crop: Crop; width?: number;
}): JSX.Element {
  const [size, setSize] = useState<[number, number] | null>(null);
  const src = viewPath(live.job, frame.id, width);
  useEffect(() => {
    const image = new Image();
    image.onload = () => setSize([image.naturalWidth, image.naturalHeight]);
    image.src = src;
    return () => {
      image.onload = null;
    };
  }, [src]);
  if (!size) return <p class="soft">{text.wait}</p>;
  const [w, h] = size;
  const box = [crop.left_ratio * w, crop.top_ratio * h, crop.width_ratio * w, crop.height_ratio * h];
  return (
    <svg class="cut" viewBox={box.join(' ')} role="img" aria-label={text.crops.cut(frame.name, crop.outlet)}>
      <svg x={box[0]} y={box[1]} width={box[2]} height={box[3]} viewBox={box.join(' ')} overflow="hidden">
        <image href={src} width={w} height={h} />
      </svg>
    </svg>
  );
}

export function CropView({ live, frame, crop, done, next }: {
  live: Live; frame: Frame; crop: Crop; done: () => void; next: (() => void) | undefined;
}): JSX.Element {
  useEffect(() => {
    const onKey = (event: KeyboardEvent): void => {
      if (event.key === 'Escape') done();
    };
    window.addEventListener('keydown', onKey);
    return () => window.removeEventListener('keydown', onKey);
  });
  return (
    <div class="crop-view">
      <div class="crop-view-picture">
        {crop.fits ? <Cut live={live} frame={frame} crop={crop} /> : <p class="hero-none">{crop.sentence}</p>}
      </div>
      <div class="crop-foot">
        <p>
          <strong>{crop.outlet}</strong>
          {crop.fits && crop.sentence ? ` ${crop.sentence}` : ''}
        </p>
        {next ? (
          <button type="button" onClick={next}>
            {text.pass.nextOutlet}
          </button>
        ) : null}
        <button type="button" onClick={done}>
          {text.pass.back}
        </button>
      </div>
    </div>
  );
}
