// What the page knows, in one place. Views read `state` and change it with `set`; a change redraws once a frame at most.

export const state = {
  job: null, // vocabulary of the circuit, never changes
  answer: null, // readings, suspects, next tests, as the server last told
  setUp: '', // text form of how the vehicle stands
  instrument: 'voltmeter',
  red: '', // path of a point, or of a place for scan data, codes and the clamp
  black: '',
  lead: 'red', // which lead the next tap on the picture sets
  todo: [], // tests of a proposal that are still to be done after this one
  value: '',
  unit: '',
  judge: null, // judgement of the intended test
  suspect: '', // the suspect that is marked
  expects: null, // what points would read under it
  leans: null, // the assumptions that the marked suspect leans on
  proof: null, // the last repair on trial
  planning: false, // a plan was asked for
  plan: null, // it, or how far it is
  planAsked: 0, // how often it was asked how far it is
  picture: null,
  stairs: null,
  pictureSize: null, // of the frames that they stand in, pixels
  stairsSize: null,
  viewWidth: 0, // how much of the picture shows across, in its pixels
  measuring: false, // phone: the keys show in place of the proposal
  tab: 'measure', // phone: which panel shows
  setUpOpen: false,
  didOpen: false, // the form for what was done
  twin: false, // the next reading is of a sound twin
  caution: '', // what to mind with the last change of the set-up
  message: '', // said once, near the thumb
  waiting: 0, // events not yet at the server
  offline: false,
};

const listeners = new Set();
let due = false;

export function set(patch) {
  Object.assign(state, patch);
  if (due) return;
  due = true;
  queueMicrotask(() => {
    due = false;
    for (const listener of listeners) listener();
  });
}

export function onChange(listener) {
  listeners.add(listener);
}
