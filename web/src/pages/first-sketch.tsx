// SPDX-License-Identifier: Apache-2.0
// Step 1, drawn: the table from the side of the camera, a sheet of A4, a grey card, and the stand-in between them.
import type { JSX } from 'preact';
import { text } from '../text';

export function FirstSketch(): JSX.Element {
  return (
    <svg class="first-sketch" viewBox="0 0 560 300" role="img" aria-label={text.intake.sketch}>
      <g fill="none" stroke="currentColor" stroke-width="2" stroke-linejoin="round" stroke-linecap="round">
        <path d="M92 132h376l76 128H16z" />
        <path d="M16 260v14h528v-14" />
        <path d="M152 166l92 0-14 64-108 0z" />
        <ellipse cx="322" cy="196" rx="58" ry="24" />
        <ellipse cx="322" cy="191" rx="38" ry="13" />
        <path d="M296 186c10-20 42-22 52 0" />
        <path d="M404 176h46l12 40h-52z" fill="#b9b9b9" />
        <path d="M250 20h60l10 14h34v52H206V34h34z" />
        <circle cx="280" cy="60" r="19" />
        <circle cx="280" cy="60" r="9" />
      </g>
      <g stroke="currentColor" stroke-width="1" stroke-dasharray="2 6" fill="none">
        <path d="M270 90L180 160M284 90l36 76M294 88l128 84" />
      </g>
      <g font-size="17" font-style="italic" fill="currentColor">
        <text x="148" y="205">{text.intake.sketchWords.sheet}</text>
        <text x="470" y="196">{text.intake.sketchWords.card}</text>
        <text x="300" y="246">{text.intake.sketchWords.standIn}</text>
        <text x="366" y="66">{text.intake.sketchWords.locked}</text>
      </g>
    </svg>
  );
}
