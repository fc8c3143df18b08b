// SPDX-License-Identifier: Apache-2.0
// A picture weighed from parts here in the page: another setting of the dials shows with the next frame of the screen.
import type { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { drawerFor } from './draw';
import type { Drawer } from './draw';
import type { Parts } from './parts';
import type { Setting } from './show';

export function Weighed({ parts, setting, label }: { parts: Parts; setting: Setting; label: string }): JSX.Element {
  const canvas = useRef<HTMLCanvasElement>(null);
  const drawer = useRef<Drawer | null>(null);
  const [plain, setPlain] = useState(false);
  useEffect(() => {
    if (!canvas.current) return undefined;
    const { width_px, height_px } = parts.head;
    drawer.current = drawerFor(canvas.current, width_px, height_px, parts.px, plain);
    if (!drawer.current && !plain) setPlain(true);
    return () => {
      drawer.current?.dispose();
      drawer.current = null;
    };
  }, [parts, plain]);
  useEffect(() => {
    const next = requestAnimationFrame(() => drawer.current?.draw(setting));
    return () => cancelAnimationFrame(next);
  }, [parts, plain, setting]);
  // A canvas on which WebGL was tried can draw nothing else, so plain arithmetic gets one of its own.
  return <canvas key={plain ? 'arithmetic' : 'webgl'} ref={canvas} role="img" aria-label={label} />;
}
