// SPDX-License-Identifier: Apache-2.0
// Joining a device: the PIN on the phone; on the laptop the address to join at, and who has joined.
import type { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { get, post, remove, Refused } from '../api';
import type { Device, Me, Role } from '../api';
import { Booklet } from '../booklet';
import type { Leaf } from '../booklet';
import { Trouble, troubleOf } from '../trouble';
import { text } from '../text';
import './join.css';

const ROLES: readonly Role[] = ['photographer', 'cook', 'client'];

export function Join({ me, joined, leaves, here, head }: {
  me: Me; joined: () => void; leaves?: Leaf[]; here?: string; head?: string;
}): JSX.Element {
  if (me.role === 'photographer') {
    return (
      <Booklet title={text.join.devices} leaves={leaves} here={here} head={head} narrow>
        {me.lan ? <Code /> : <p class="column">{text.join.alone}</p>}
        {me.lan ? <Devices /> : null}
      </Booklet>
    );
  }
  return (
    <Booklet title={text.join.title} narrow>
      <p class="column">{text.join.say}</p>
      <JoinForm joined={joined} />
    </Booklet>
  );
}

function JoinForm({ joined }: { joined: () => void }): JSX.Element {
  const [wrong, setWrong] = useState('');
  const join = async (event: JSX.TargetedSubmitEvent<HTMLFormElement>): Promise<void> => {
    event.preventDefault();
    const form = new FormData(event.currentTarget);
    const pin = String(form.get('pin') ?? '').replace(/\s/g, '');
    if (!/^\d{4}$/.test(pin)) {
      setWrong(text.join.pinShape);
      return;
    }
    try {
      await post('/api/join', { pin, name: String(form.get('name') ?? '').trim(), role: String(form.get('role')) });
      joined();
    } catch (error) {
      setWrong(error instanceof Refused && !error.message ? text.join.wrong : troubleOf(error));
    }
  };
  return (
    <form class="column join" onSubmit={(event) => void join(event)} noValidate>
      <label class="line pin">
        <span>{text.join.pin}</span>
        <input name="pin" inputMode="numeric" autocomplete="off" maxLength={8} aria-describedby="join-wrong" />
      </label>
      <label class="line">
        <span>{text.join.name}</span>
        <input name="name" placeholder={text.join.nameHint} autocomplete="off" maxLength={60} />
      </label>
      <fieldset>
        <legend>{text.join.role}</legend>
        {ROLES.map((role) => (
          <label key={role}>
            <input type="radio" name="role" value={role} defaultChecked={role === 'cook'} />
            {text.join[role]}
          </label>
        ))}
      </fieldset>
      <div role="alert" id="join-wrong">
        {wrong ? <p class="wrong">{wrong}</p> : null}
      </div>
      <button type="submit">{text.join.join}</button>
    </form>
  );
}

function Code(): JSX.Element {
  const [code, setCode] = useState<{ url: string; pin: string } | null>(null);
  const [trouble, setTrouble] = useState<unknown>(null);
  useEffect(() => {
    get<{ url: string; pin: string }>('/api/join/code').then(setCode, setTrouble);
  }, []);
  if (trouble) return <Trouble of={trouble} />;
  if (!code) return <p class="soft">{text.wait}</p>;
  return (
    <section class="join-code">
      <img src="/api/join/code.svg" alt={text.join.code} width="240" height="240" />
      <div>
        <p>{text.join.show}</p>
        <dl>
          <dt>{text.join.address}</dt>
          <dd class="join-address">{code.url}</dd>
          <dt>{text.join.pin}</dt>
          <dd class="join-pin">{code.pin}</dd>
        </dl>
      </div>
    </section>
  );
}

function Devices(): JSX.Element {
  const [devices, setDevices] = useState<Device[] | null>(null);
  const [said, setSaid] = useState('');
  const look = (): void => {
    get<{ devices: Device[] }>('/api/devices').then(
      (answer) => setDevices(answer.devices),
      (error: unknown) => setSaid(troubleOf(error)),
    );
  };
  useEffect(() => {
    look();
    const timer = setInterval(look, 5000);
    return () => clearInterval(timer);
  }, []);
  const sendAway = async (device: Device): Promise<void> => {
    try {
      await remove(`/api/devices/${encodeURIComponent(device.id)}`);
      setSaid(text.join.away(device.name));
    } catch (error) {
      setSaid(troubleOf(error));
    }
    look();
  };
  return (
    <section>
      <p role="status">{said}</p>
      {devices && devices.length === 0 ? <p class="soft">{text.join.nobody}</p> : null}
      {devices && devices.length > 0 ? (
        <table class="column">
          <tbody>
            {devices.map((device) => (
              <tr key={device.id}>
                <th scope="row">{device.name}</th>
                <td>{text.join[device.role]}</td>
                <td class="figure">
                  {device.this ? (
                    <span class="soft">{text.join.thisOne}</span>
                  ) : (
                    <button type="button" class="words" onClick={() => void sendAway(device)}>
                      {text.join.sendAway}
                      <span class="hidden-words"> {device.name}</span>
                    </button>
                  )}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      ) : null}
    </section>
  );
}
