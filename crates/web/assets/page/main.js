// The bench: opens the job, draws it, and keeps it up to date.
import { html, render } from './html.js';
import { get, JOB, listen } from './api.js';
import { answered, catchUp, send } from './deeds.js';
import { About } from './about.js';
import { list } from './back.js';
import { Before } from './before.js';
import { Entry } from './entry.js';
import { BLACK_USUAL } from './intent.js';
import { Left } from './left.js';
import { applyLook, look, nextLook } from './look.js';
import { Next } from './next.js';
import { Stairs, Wiring } from './picture.js';
import { unsent } from './queue.js';
import { Plan } from './plan.js';
import { Proof } from './proof.js';
import { Readings } from './readings.js';
import { SetUp } from './setup.js';
import { Shop } from './shop.js';
import { Standing } from './standing.js';
import { onChange, set, state } from './store.js';
import { WriteUp } from './writeup.js';

const TABS = [['measure', 'Measure'], ['left', 'What is left'], ['readings', 'Readings'], ['stairs', 'Voltages'], ['job', 'Job']];
const LOOK_WORDS = { light: '☀ light', dark: '☾ dark', sunlight: '◉ sunlight' };
const SWIPE = 60; // pixels

function Top() {
  const { job, answer, waiting, offline } = state;
  const minutes = Math.round(answer.minutes);
  return html`<header class="top">
    ${JOB && html`<a class="link" href=${list()}>‹ jobs</a>`}
    <h1>${job.title}</h1>
    <p class="complaint">${answer.intake.complaint}${minutes > 0 ? ` · ${minutes} min so far` : ''}</p>
    <span class="tools">
      ${(offline || waiting > 0) && html`<span class="link-state" role="status">${waiting > 0 ? `${waiting} to send` : 'not connected'}</span>`}
      <span class="desk-only row"><button class="link" onClick=${() => document.querySelector('.about').scrollIntoView()}>intake</button><${Standing} /></span>
      <button class="link" aria-label=${`look: ${look()}, tap for the next`} onClick=${() => { nextLook(); set({}); }}>${LOOK_WORDS[look()]}</button>
    </span>
  </header>`;
}

function Tabs() {
  return html`<div class="tabs" role="tablist" aria-label="panels">${TABS.map(([id, words]) => html`<button role="tab" key=${id}
    id=${`tab-${id}`} aria-selected=${state.tab === id} onClick=${() => set({ tab: id })}>${words}</button>`)}</div>`;
}

function swipe() {
  let from = null;
  const step = (by) => {
    const at = TABS.findIndex(([id]) => id === state.tab) + by;
    if (TABS[at]) set({ tab: TABS[at][0] });
  };
  return {
    onTouchStart: (event) => {
      from = event.touches.length === 1 ? event.touches[0] : null;
    },
    onTouchEnd: (event) => {
      if (!from) return;
      const [to] = event.changedTouches;
      const across = to.clientX - from.clientX;
      if (Math.abs(across) > SWIPE && Math.abs(across) > 2 * Math.abs(to.clientY - from.clientY)) step(across < 0 ? 1 : -1);
      from = null;
    },
  };
}
const swiping = swipe();

function Bench() {
  return html`<main class="bench" data-tab=${state.tab} data-measuring=${state.measuring} data-plan=${state.planning}
    data-working=${state.answer.working || state.answer.latest > state.answer.version}>
    <${Top} />
    <${SetUp} />
    <section class="wiring-place" aria-label="wiring picture"><${Wiring} /></section>
    <section class="stairs-place" aria-label="voltages along the path"><${Stairs} /></section>
    <div class="entry-place"><${Entry} /></div>
    <div class="panels" role="region" aria-label="what to do" tabindex="-1" ...${swiping}>
      <div class="panel measure"><${Before} /><${Proof} /><${Next} /><${Plan} /></div>
      <div class="panel left"><${Left} /><${Shop} /></div>
      <div class="panel readings"><${Readings} /></div>
      <div class="panel job"><${About} /><${WriteUp} /></div>
    </div>
    <${Tabs} />
  </main>`;
}

const place = document.getElementById('bench');

function draw() {
  if (!state.job || !state.answer) return;
  document.title = `${state.job.title} · Probewise`;
  render(html`<${Bench} />`, place);
  catchUp();
}

async function open() {
  applyLook();
  onChange(draw);
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => { applyLook(); set({}); });
  addEventListener('online', send);
  try {
    const [job, answer] = await Promise.all([get('job'), get('answer')]);
    place.replaceChildren();
    set({ job, answer, setUp: answer.set_up, instrument: job.instruments[0].id, unit: job.instruments[0].units[0], black: BLACK_USUAL, waiting: unsent().length });
  } catch (error) {
    const lost = error.status >= 400 && error.status < 500;
    render(html`<p class="opening">${error.message}. ${error.help ?? ''} ${JOB && html`<a class="link" href=${list()}>‹ jobs</a>`}</p>`, place);
    // What may pass is tried again; a job that is not there or cannot be read stays so.
    if (!lost) setTimeout(() => location.reload(), 3000);
    return;
  }
  listen(
    answered,
    (there) => {
      if (state.offline === there) set({ offline: !there });
      if (there) send();
    },
  );
}

open();
