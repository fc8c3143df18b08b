// SPDX-License-Identifier: Apache-2.0
// What went wrong, as a sentence: the server's own where it sent one.
import type { JSX } from 'preact';
import { Refused } from './api';
import { text } from './text';
import { Link } from './way';

export function troubleOf(error: unknown): string {
  if (!(error instanceof Refused)) return text.net.unreached;
  if (error.message) return error.message;
  return error.status === 401 || error.status === 403 ? text.net.notJoined : text.net.refused;
}

export function Trouble({ of }: { of: unknown }): JSX.Element {
  const joining = of instanceof Refused && (of.status === 401 || of.status === 403);
  return (
    <p class="wrong column" role="alert">
      {troubleOf(of)} {joining ? <Link to="/join">{text.net.join}</Link> : null}
    </p>
  );
}
