// SPDX-License-Identifier: Apache-2.0
// From an address to a page.
import type { JSX } from 'preact';
import { useCallback, useEffect, useState } from 'preact/hooks';
import { get } from './api';
import type { Me } from './api';
import { Booklet, LengthsContext } from './booklet';
import { Diary } from './pages/diary';
import { JobPages } from './pages/job';
import { Join } from './pages/join';
import { Trouble } from './trouble';
import { kept, keep } from './kept';
import { text } from './text';
import type { Lengths } from './units';
import { go, usePath } from './way';

export function App(): JSX.Element {
  const [lengths, setLengths] = useState<Lengths>(kept('lengths') === 'inch' ? 'inch' : 'metric');
  const change = useCallback((to: Lengths) => {
    keep('lengths', to);
    setLengths(to);
  }, []);
  return (
    <LengthsContext.Provider value={{ lengths, setLengths: change }}>
      <Known />
    </LengthsContext.Provider>
  );
}

/** Nothing is shown before it is known who holds this device. */
function Known(): JSX.Element {
  const [me, setMe] = useState<Me | null>(null);
  const [trouble, setTrouble] = useState<unknown>(null);
  const look = useCallback(async (): Promise<void> => {
    try {
      setMe(await get<Me>('/api/me'));
      setTrouble(null);
    } catch (error) {
      setTrouble(error);
    }
  }, []);
  useEffect(() => void look(), [look]);
  useEffect(() => {
    if (!trouble) return undefined;
    const again = setTimeout(() => void look(), 3000);
    return () => clearTimeout(again);
  }, [trouble, look]);
  if (me) return <Page me={me} look={look} />;
  return (
    <Booklet title={text.name}>{trouble ? <Trouble of={trouble} /> : <p class="soft">{text.wait}</p>}</Booklet>
  );
}

function Page({ me, look }: { me: Me; look: () => Promise<void> }): JSX.Element {
  const path = usePath();
  const joined = (): void => void look().then(() => go('/'));
  if (path === '/join' || me.role === null) return <Join me={me} joined={joined} here="/join" />;
  if (path === '/') return <Diary />;
  const at = /^\/job\/([^/]+)\/?(.*?)\/?$/.exec(path);
  if (at) return <JobPages key={at[1]} job={decodeURIComponent(at[1] ?? '')} leaf={at[2] ?? ''} me={me} />;
  return (
    <Booklet title={text.nowhere.title}>
      <p>{text.nowhere.say}</p>
    </Booklet>
  );
}
