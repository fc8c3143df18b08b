// SPDX-License-Identifier: Apache-2.0
// Where one is: the address of the page, and links that change it without a reload.
import { useEffect, useState } from 'preact/hooks';
import type { ComponentChildren, JSX } from 'preact';

const changed = 'platecall-way';

export function go(path: string): void {
  if (path === location.pathname) return;
  history.pushState(null, '', path);
  window.dispatchEvent(new Event(changed));
  window.scrollTo(0, 0);
}

export function usePath(): string {
  const [path, setPath] = useState(location.pathname);
  useEffect(() => {
    const look = (): void => setPath(location.pathname);
    window.addEventListener(changed, look);
    window.addEventListener('popstate', look);
    return () => {
      window.removeEventListener(changed, look);
      window.removeEventListener('popstate', look);
    };
  }, []);
  return path;
}

type LinkProps = { to: string; children: ComponentChildren } & Omit<JSX.AnchorHTMLAttributes<HTMLAnchorElement>, 'href' | 'children'>;

export function Link({ to, children, ...rest }: LinkProps): JSX.Element {
  return (
    <a
      {...rest}
      href={to}
      onClick={(event: MouseEvent) => {
        if (event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey) return;
        event.preventDefault();
        go(to);
      }}
    >
      {children}
    </a>
  );
}
