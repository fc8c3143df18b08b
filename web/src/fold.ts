// SPDX-License-Identifier: Apache-2.0
// The state of a job is its change log, folded. The server does it for good; the pages do it again for changes that
// have just come in or have not been sent yet. Of some kinds a later body is laid over the earlier one, of others it
// takes its place, as in the server's table of kinds.
import type { FrameRole, JobState, Outlet, Plate, Row, Tap, TapState, TouchName } from './api';
import { blankDials, blankFrame, blankPlate, blankShot, blankTouch, blankVerdict } from './state';

/** Puts made(what was there) in its place, or at the end. */
function put<T>(list: readonly T[], same: (other: T) => boolean, made: (before: T | undefined) => T): T[] {
  const at = list.findIndex(same);
  return at < 0 ? [...list, made(undefined)] : list.map((other, i) => (i === at ? made(other) : other));
}

function foldTap(state: JobState, row: Row): Plate[] {
  const ago = typeof row.body['ago_ms'] === 'number' ? row.body['ago_ms'] : 0;
  const tap: Tap = { state: row.body['state'] as TapState, at_ms: row.at_ms - ago, rev: row.rev, key: row.key };
  return state.plates.map((plate) =>
    plate.id !== row.subject || plate.taps.some((other) => other.key !== null && other.key === tap.key)
      ? plate
      : { ...plate, taps: [...plate.taps, tap].sort((a, b) => a.at_ms - b.at_ms) },
  );
}

export function fold(state: JobState, row: Row): JobState {
  const { subject, body } = row;
  const mine = (other: { id: string }): boolean => other.id === subject;
  const ofFrame = (other: { frame: string }): boolean => other.frame === subject;
  switch (row.what) {
    case 'job':
      return { ...state, job: { ...state.job, ...body } };
    case 'shot':
      return {
        ...state, shots: put(state.shots, mine, (was) => ({ ...(was ?? blankShot(subject)), ...body, id: subject })),
      };
    case 'outlet': {
      const outlet: Outlet = { ...body, name: subject };
      return { ...state, outlets: put(state.outlets, (other) => other.name === subject, () => outlet) };
    }
    case 'frame': {
      const blank = blankFrame(subject, row.at_ms);
      return { ...state, frames: put(state.frames, mine, (was) => ({ ...(was ?? blank), ...body, id: subject })) };
    }
    case 'role': {
      const role = body as unknown as FrameRole;
      return { ...state, frames: state.frames.map((frame) => (mine(frame) ? { ...frame, role } : frame)) };
    }
    case 'touch': {
      const touch = { ...blankTouch(subject as TouchName), ...body };
      return { ...state, touches: put(state.touches, (other) => other.subject === subject, () => touch) };
    }
    case 'dials':
      return { ...state, dials: { ...(state.dials ?? blankDials(row.at_ms)), ...body, at_ms: row.at_ms } };
    case 'locked':
      return { ...state, locked: subject };
    case 'plate':
      return {
        ...state, plates: put(state.plates, mine, (was) => ({ ...(was ?? blankPlate(subject)), ...body, id: subject })),
      };
    case 'tap':
      return { ...state, plates: foldTap(state, row) };
    case 'verdict': {
      const verdict = { ...blankVerdict(subject), ...body };
      return { ...state, verdicts: put(state.verdicts, ofFrame, () => verdict) };
    }
    case 'choice': {
      const choice = { frame: subject, this: body['this'] === true, why: String(body['why'] ?? '') };
      return { ...state, choices: put(state.choices, ofFrame, () => choice) };
    }
    default:
      return state;
  }
}
