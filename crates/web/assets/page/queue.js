// Events on their way to the server. Each is written down here before it is sent and crossed off when the server has it,
// so nothing is lost without a network, and sending twice adds once: the id is made here.
import { JOB, post } from './api.js';

// A job's own: what waits for one is never sent to another.
const KEY = `probewise.unsent${JOB}`;
const DEVICE = 'probewise.device';
const SEQUENCE = 'probewise.sequence';

function makeId() {
  const bytes = crypto.getRandomValues(new Uint8Array(12));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('');
}

function kept(key, make) {
  let value = localStorage.getItem(key);
  if (!value) {
    value = make();
    localStorage.setItem(key, value);
  }
  return value;
}

export function unsent() {
  try {
    const events = JSON.parse(localStorage.getItem(KEY) ?? '[]');
    return Array.isArray(events) ? events : [];
  } catch {
    return [];
  }
}

function keep(events) {
  localStorage.setItem(KEY, JSON.stringify(events));
}

/** Writes an event down. `what` holds its kind and fields. */
export function add(what) {
  const sequence = Number(localStorage.getItem(SEQUENCE) ?? '0') + 1;
  localStorage.setItem(SEQUENCE, String(sequence));
  const event = { id: makeId(), device: kept(DEVICE, makeId), sequence, at_ms: Date.now(), ...what };
  keep([...unsent(), event]);
  return event;
}

let sending = false;

/**
 * Sends what waits, oldest first. `refused(event, error)` is told of one that the server will never take; it is crossed
 * off. Resolves to false if the server is not there.
 */
export async function flush(refused) {
  if (sending) return true;
  sending = true;
  try {
    for (let [event] = unsent(); event; [event] = unsent()) {
      try {
        await post('events', event);
      } catch (error) {
        // Not there, or not able just now: later, with the same id.
        if (error.status === 0 || error.status >= 500) return false;
        refused(event, error);
      }
      keep(unsent().filter((other) => other.id !== event.id));
    }
    return true;
  } finally {
    sending = false;
  }
}
