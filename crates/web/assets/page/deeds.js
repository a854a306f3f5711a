// What the person can do, and what the page does of itself when something changed.
import { get, newest, Refused } from './api.js';
import { BLACK_USUAL, instrument, intending, testText } from './intent.js';
import { add, flush, unsent } from './queue.js';
import { sameSetUp } from './clauses.js';
import { set, state } from './store.js';

const RETRY_MS = 3000;
const PLAN_MS = 700; // between two looks at how far a plan is
const STEADY_MS = 600; // after which a set-up that is being changed counts as chosen
let retry = 0;
let steadying = 0;

/** Sends what waits; tries again later if the server is not there. */
export async function send() {
  const there = await flush(refuse);
  const waiting = unsent();
  for (const id of noted.keys()) if (!waiting.some((event) => event.id === id)) noted.delete(id);
  set({ waiting: waiting.length, offline: !there });
  clearTimeout(retry);
  if (!there) retry = setTimeout(send, RETRY_MS);
}

// What stood on the keys when a reading was noted, by its event.
const noted = new Map();

/** The server takes an entry never: it says why, and what was typed stands again to be corrected. */
function refuse(event, error) {
  const typed = noted.get(event.id);
  const again = typed && !state.value ? { ...typed, judge: null, measuring: true, tab: 'measure' } : {};
  set({ ...again, message: [error.message, error.help].filter(Boolean).join(' ') });
}

/** Notes what the instrument shows: the typed value, or `answer` if it is not a number. */
export function note(answer) {
  const test = testText();
  const text = answer ?? state.value.trim().replace(',', '.').replace('−', '-');
  if (!test || !text) return;
  // A person may type the unit; then it stands as typed.
  const shown = answer === undefined && /^[-+]?[0-9.]+$/.test(text) ? `${text} ${state.unit}`.trim() : text;
  // The reading says how the vehicle stands.
  clearTimeout(steadying);
  steadying = 0;
  const event = add({ what: 'reading', set_up: state.setUp, test, shown, ...(state.twin ? { twin: true } : {}) });
  const { setUp, instrument: tool, red, black, lead, unit, value } = state;
  noted.set(event.id, { setUp, instrument: tool, red, black, lead, unit, value, todo: state.todo });
  const [following, ...todo] = state.todo;
  set({ value: '', message: '', judge: null, todo, waiting: unsent().length, ...(following ? intending(following) : { red: '', black: BLACK_USUAL, lead: 'red', measuring: false }) });
  send();
}

/** The set-up was changed by hand. Once it stays so, the job is told: what to measure next starts from it. */
export function stand(setUp, caution = '') {
  set({ setUp, caution });
  clearTimeout(steadying);
  steadying = setTimeout(tellSetUp, STEADY_MS);
}

function tellSetUp() {
  clearTimeout(steadying);
  steadying = 0;
  const { answer, setUp } = state;
  const known = answer.latest === answer.version && unsent().length === 0 && sameSetUp(setUp, answer.set_up);
  if (known) return;
  add({ what: 'set_up', set_up: setUp });
  send();
}

/** A new answer. A set-up that changed by itself (taken back, or on another device) shows on the chips here too. */
export function answered(answer) {
  const before = state.answer;
  const alone = answer.readings.length === before.readings.length && !sameSetUp(answer.set_up, before.set_up);
  const followed = !steadying && sameSetUp(state.setUp, before.set_up);
  set({ answer, ...(alone && followed ? { setUp: answer.set_up } : {}) });
}

/** Notes an event that is no reading. */
export function record(what) {
  add(what);
  send();
}

/** A suspect was repaired: readings from now on prove it, or refute it. */
export function repaired(suspect) {
  record({ what: 'repair', words: suspect.repair, fault: suspect.fault });
  set({ suspect: '', expects: null, leans: null, tab: 'measure' });
  document.querySelector('.panels')?.scrollTo(0, 0);
}

export function takeBack(event) {
  record({ what: 'undo', event });
}

export function undoRedo(which) {
  const step = state.answer?.[which];
  if (step) takeBack(step.event);
}

/** Makes ready for the tests of a proposal: the set-up as it must be, the leads where they go. */
export function plan(setUp, [first, ...todo]) {
  if (steadying) tellSetUp();
  set({ setUp, setUpOpen: false, caution: '', todo, judge: null, tab: 'measure', measuring: true, ...intending(first) });
}

/** Marks a suspect on the pictures and asks what it would make every point read. */
export function mark(fault) {
  set({ suspect: fault, expects: null, leans: null });
}

/** A tap on a terminal: the red lead, then the black one; on a lead that stands there already, it is taken off. */
export function tap(spot) {
  if (!spot.reachable) {
    set({ message: `${spot.words}: ${spot.why}` });
    return;
  }
  const tool = instrument();
  const base = { judge: null, value: '', message: '', todo: [], tab: 'measure', measuring: true };
  if (tool.places.length > 0) {
    const volts = state.job.instruments[0];
    set({ ...base, instrument: volts.id, unit: volts.units[0], red: spot.point, black: BLACK_USUAL, lead: 'black' });
  } else if (spot.point === state.red) {
    set({ ...base, red: '', lead: 'red' });
  } else if (state.lead === 'black' && state.red) {
    set({ ...base, black: spot.point, lead: 'red' });
  } else {
    set({ ...base, red: spot.point, black: BLACK_USUAL, lead: 'black', unit: state.unit || tool.units[0] || '' });
  }
}

const refusal = (error) => {
  if (!(error instanceof Refused)) throw error;
  if (error.status !== 0) set({ message: [error.message, error.help].filter(Boolean).join(' ') });
};

/** Asks again whenever what the question rests on has changed. */
function follow(question, key, apply) {
  const ask = newest(question);
  let last = '';
  return () => {
    const now = key();
    if (now === last) return;
    last = now;
    if (now === '') {
      apply(null);
      return;
    }
    ask().then(
      (answer) => answer !== undefined && apply(answer),
      (error) => {
        last = '';
        refusal(error);
      },
    );
  };
}

const version = () => `${state.answer?.version}/${state.answer?.proposals_pending}`;
const view = () => ({ set_up: state.setUp, suspect: state.suspect });
const onPoints = () => instrument().places.length === 0;
const pictureQuery = () => ({
  ...view(),
  red: onPoints() ? state.red : '',
  black: onPoints() && state.red ? state.black : '',
  width: desk() ? Math.round(state.pictureSize?.width ?? 0) : '',
});
// At a desk the staircase stands under the picture, place under place; on a phone it has a panel of its own.
const stairsQuery = () => {
  const { pictureSize, stairsSize, viewWidth } = state;
  const under = desk() && viewWidth > 0;
  const scale = under ? viewWidth / pictureSize.width : 1;
  return {
    ...view(),
    at: onPoints() ? state.red : '',
    width: Math.round((under ? pictureSize : stairsSize).width),
    height: Math.round(stairsSize.height * scale),
    ...(under ? { under: true } : {}),
  };
};
const desk = () => matchMedia('(min-width: 900px)').matches;

const followers = [
  follow(
    () => get('picture', pictureQuery()),
    () => (state.pictureSize ? JSON.stringify([pictureQuery(), version()]) : ''),
    (picture) => set({ picture }),
  ),
  follow(
    () => get('staircase', stairsQuery()),
    () => (state.stairsSize && state.pictureSize ? JSON.stringify([stairsQuery(), version()]) : ''),
    (stairs) => set({ stairs }),
  ),
  follow(
    () => get('judge', { set_up: state.setUp, test: testText() }),
    () => (testText() ? JSON.stringify([state.setUp, testText(), state.answer?.version]) : ''),
    (judge) => set({ judge }),
  ),
  follow(
    () => get('expects', view()),
    () => (state.suspect ? JSON.stringify([view(), state.answer?.version]) : ''),
    (expects) => set({ expects }),
  ),
  follow(
    () => get('leans', { suspect: state.suspect }),
    () => (state.suspect ? JSON.stringify([state.suspect, state.answer?.version]) : ''),
    (leans) => set({ leans }),
  ),
  follow(
    () => get('plan'),
    () => (state.planning ? `${version()}/${state.planAsked}` : ''),
    (plan) => {
      set({ plan });
      if (plan?.working) setTimeout(() => set({ planAsked: state.planAsked + 1 }), PLAN_MS);
    },
  ),
  follow(
    () => get('proof'),
    () => (state.answer?.repaired ? `${state.answer.version}` : ''),
    (proof) => set({ proof }),
  ),
];

/** Called after every change: asks what must be asked anew. */
export function catchUp() {
  if (!state.job || !state.answer) return;
  for (const ask of followers) ask();
}
