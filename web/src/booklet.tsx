// SPDX-License-Identifier: Apache-2.0
// The paper a page is printed on: a running head, the page, and at the foot what comes before and after it.
import { createContext } from 'preact';
import type { ComponentChildren, JSX } from 'preact';
import { useContext, useEffect, useRef } from 'preact/hooks';
import type { Lengths } from './units';
import { text } from './text';
import { go, Link } from './way';

export interface Leaf { to: string; name: string }
export const LengthsContext = createContext<{ lengths: Lengths; setLengths: (lengths: Lengths) => void }>({
  lengths: 'metric',
  setLengths: () => undefined,
});

interface Props {
  title: string;
  head?: string | undefined;
  place?: string | undefined;
  leaves?: Leaf[] | undefined;
  here?: string | undefined;
  net?: ComponentChildren;
  /** A page for the hand at the set: no running head, no heading; the foot lies below the screen. */
  bare?: boolean;
  /** One printed column. */
  narrow?: boolean;
  children: ComponentChildren;
}

/** PageDown and PageUp turn the leaf when there is nothing left to scroll: pedals and presenters send them. */
function useTurning(earlier: Leaf | undefined, next: Leaf | undefined): void {
  useEffect(() => {
    const turn = (event: KeyboardEvent): void => {
      if (event.defaultPrevented || event.altKey || event.ctrlKey || event.metaKey) return;
      const room = document.documentElement;
      const atEnd = Math.ceil(room.scrollTop + room.clientHeight) >= room.scrollHeight - 1;
      if (event.key === 'PageDown' && next && atEnd) {
        event.preventDefault();
        go(next.to);
      } else if (event.key === 'PageUp' && earlier && room.scrollTop <= 0) {
        event.preventDefault();
        go(earlier.to);
      }
    };
    window.addEventListener('keydown', turn);
    return () => window.removeEventListener('keydown', turn);
  }, [earlier?.to, next?.to]);
}

export function Booklet({ title, head, place, leaves = [], here, net, bare, narrow, children }: Props): JSX.Element {
  const at = leaves.findIndex((leaf) => leaf.to === here);
  const earlier = at > 0 ? leaves[at - 1] : undefined;
  const next = at >= 0 ? leaves[at + 1] : undefined;
  const heading = useRef<HTMLHeadingElement>(null);
  useTurning(earlier, next);
  useEffect(() => {
    document.title = `${title} · ${head ?? text.name}`;
    heading.current?.focus({ preventScroll: true });
  }, [title, head]);
  return (
    <div class={`booklet${bare ? ' at-hand' : ''}${narrow ? ' narrow' : ''}`}>
      <div class="net" role="status">
        {net}
      </div>
      {bare ? null : (
        <header class="running-head">
          <span>{head ?? text.name}</span>
          <span class="place">{place}</span>
        </header>
      )}
      <main>
        {bare ? (
          <h1 class="hidden-words">{title}</h1>
        ) : (
          <h1 tabIndex={-1} ref={heading}>
            {title}
          </h1>
        )}
        {children}
      </main>
      <Foot leaves={leaves} here={here} earlier={earlier} next={next} />
    </div>
  );
}

function Foot({ leaves, here, earlier, next }: {
  leaves: Leaf[]; here: string | undefined; earlier: Leaf | undefined; next: Leaf | undefined;
}): JSX.Element {
  const { lengths, setLengths } = useContext(LengthsContext);
  const other: Lengths = lengths === 'metric' ? 'inch' : 'metric';
  return (
    <footer class="foot">
      <nav aria-label={text.foot.contents}>
        {earlier || next ? (
          <div class="turn">
            {earlier ? (
              <Link to={earlier.to} rel="prev">
                <span>{text.foot.earlier}</span> {earlier.name}
              </Link>
            ) : null}
            {next ? (
              <Link to={next.to} rel="next">
                <span>{text.foot.next}</span> {next.name}
              </Link>
            ) : null}
          </div>
        ) : null}
        <p class="contents">
          {leaves.map((leaf) => (
            <span key={leaf.to}>
              <Link to={leaf.to} aria-current={leaf.to === here ? 'page' : undefined}>
                {leaf.name}
              </Link>
              {' · '}
            </span>
          ))}
          <Link to="/" aria-current={here === '/' ? 'page' : undefined}>
            {text.foot.diary}
          </Link>
        </p>
      </nav>
      <button type="button" class="words soft" onClick={() => setLengths(other)}>
        {text.foot.lengths} {text.foot[other]}
      </button>
    </footer>
  );
}
