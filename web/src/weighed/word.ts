// SPDX-License-Identifier: Apache-2.0
import { text } from '../text';
import { troubleOf } from '../trouble';
import { NoParts } from './parts';

export interface Came { ratio: number; trouble: unknown }

/** What stands where a picture will be. */
export function pictureWord(came: Came): string {
  const { trouble } = came;
  if (!trouble) return text.picture.coming(came.ratio);
  return text.picture.none(trouble instanceof NoParts && trouble.message ? trouble.message : troubleOf(trouble));
}
