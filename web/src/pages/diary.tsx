// SPDX-License-Identifier: Apache-2.0
// The diary of jobs: one line a job, by date.
import type { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { get, post } from '../api';
import type { DiaryLine } from '../api';
import { Booklet } from '../booklet';
import { Trouble, troubleOf } from '../trouble';
import { text } from '../text';
import { day, today } from '../units';
import { go, Link } from '../way';
import './diary.css';

export function Diary(): JSX.Element {
  const [jobs, setJobs] = useState<DiaryLine[] | null>(null);
  const [trouble, setTrouble] = useState<unknown>(null);
  useEffect(() => {
    get<{ jobs: DiaryLine[] }>('/api/jobs').then(
      (answer) => setJobs(answer.jobs),
      (error: unknown) => setTrouble(error),
    );
  }, []);
  return (
    <Booklet title={text.diary.title} here="/" narrow>
      {trouble ? <Trouble of={trouble} /> : null}
      {jobs === null && !trouble ? <p class="soft">{text.wait}</p> : null}
      {jobs ? <Lines jobs={jobs} /> : null}
      {jobs ? <NewJob /> : null}
    </Booklet>
  );
}

function Lines({ jobs }: { jobs: DiaryLine[] }): JSX.Element {
  if (jobs.length === 0) return <p class="column">{text.diary.empty}</p>;
  const byDate = [...jobs].sort((a, b) => b.date.localeCompare(a.date) || a.title.localeCompare(b.title));
  return (
    <ol class="plain diary">
      {byDate.map((job) => (
        <li key={job.id}>
          <span class="diary-day">{job.date ? day(job.date) : ''}</span>
          <span class="diary-what">
            <Link to={`/job/${encodeURIComponent(job.id)}/`}>{job.title || job.id}</Link>
            {job.client ? <span class="soft">, {job.client}</span> : null}
          </span>
          <span class="diary-count soft">{text.diary.frames(job.frames)}</span>
        </li>
      ))}
    </ol>
  );
}

function NewJob(): JSX.Element {
  const [wrong, setWrong] = useState('');
  const write = async (event: JSX.TargetedSubmitEvent<HTMLFormElement>): Promise<void> => {
    event.preventDefault();
    const form = new FormData(event.currentTarget);
    const title = String(form.get('title') ?? '').trim();
    if (!title) {
      setWrong(text.diary.titleMissing);
      return;
    }
    try {
      const made = await post<{ id: string }>('/api/jobs', {
        title,
        client: String(form.get('client') ?? '').trim(),
        date: String(form.get('date') ?? ''),
      });
      go(`/job/${encodeURIComponent(made.id)}/`);
    } catch (error) {
      setWrong(troubleOf(error));
    }
  };
  return (
    <form class="column new-job no-print" onSubmit={(event) => void write(event)} noValidate>
      <h2>{text.diary.newJob}</h2>
      <label class="line">
        <span>{text.diary.titleIs}</span>
        <input name="title" placeholder={text.diary.titleHint} autocomplete="off" maxLength={200} />
      </label>
      <div class="new-job-pair">
        <label class="line">
          <span>{text.diary.clientIs}</span>
          <input name="client" autocomplete="off" maxLength={200} />
        </label>
        <label class="line">
          <span>{text.diary.dateIs}</span>
          <input name="date" type="date" defaultValue={today()} />
        </label>
      </div>
      <div role="alert">{wrong ? <p class="wrong">{wrong}</p> : null}</div>
      <button type="submit">{text.diary.write}</button>
    </form>
  );
}
