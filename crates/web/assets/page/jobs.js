// The jobs of the shop: what is open, what waits, what is proven; found by plate, vehicle, code or words.
import { html, render } from './html.js';
import { get, newest } from './api.js';
import { rememberList } from './back.js';
import { applyLook, look, nextLook } from './look.js';

const place = document.getElementById('jobs');
const STILL = 120; // milliseconds after the last letter until it is looked for
const AGAIN = 5000; // between two looks whether something changed
const ask = newest(get);
// Only the bench's own screen lets others in.
const isBench = /^(localhost|127\.0\.0\.1|\[::1\])$/.test(location.hostname);
let state = { search: new URLSearchParams(location.search).get('search') ?? '', list: null, told: '' };
let waiting = 0;

function set(change) {
  state = { ...state, ...change };
  render(html`<${Jobs} />`, place);
}

function lookUp() {
  ask('jobs', { search: state.search }).then(
    (list) => list && set({ list, told: '' }),
    (error) => set({ told: `${error.message}. ${error.status === 0 ? 'What is listed may be old.' : error.help}` }),
  );
}

function type(search) {
  set({ search });
  const address = search.trim() ? `/?${new URLSearchParams({ search })}` : '/';
  history.replaceState(null, '', address);
  rememberList(address);
  clearTimeout(waiting);
  waiting = setTimeout(lookUp, STILL);
}

const day = (ms) => new Date(ms).toLocaleDateString([], { day: 'numeric', month: 'short' });
const clock = (ms) => new Date(ms).toLocaleTimeString([], { hour: '2-digit', minute: '2-digit', hour12: false });
const isToday = (ms) => new Date(ms).toDateString() === new Date().toDateString();
const when = (ms) => (isToday(ms) ? clock(ms) : day(ms));

function Job({ job, standing }) {
  const waits = standing === 'parts' || standing === 'customer';
  return html`<li><a class="job" href=${`/job/${encodeURIComponent(job.id)}/`}>
    <b class="title">${job.title}</b><time>${when(job.last_ms)}</time>
    ${job.complaint && html`<span class="complaint">${job.complaint}</span>`}
    <small>${[waits && `waits since ${when(job.since_ms)}`, ...job.codes, job.told].filter(Boolean).join(' · ')}</small></a></li>`;
}

function Group({ group }) {
  const { standing, words, count, jobs } = group;
  return html`<section class=${`group ${standing}`} aria-label=${words}>
    <h2>${words} <span class="count">${count}</span></h2>
    <ul>${jobs.map((job) => html`<${Job} key=${job.id} job=${job} standing=${standing} />`)}</ul>
    ${count > jobs.length && html`<p class="soft">and ${count - jobs.length} older ones: type more to find them</p>`}
  </section>`;
}

function Jobs() {
  const { list, search, told } = state;
  const found = list?.groups.length > 0;
  return html`<main class="jobs">
    <header><h1>Jobs</h1><button class="link" aria-label=${`look: ${look()}, tap for the next`} onClick=${() => { nextLook(); set({}); }}>look: ${look()}</button>
      ${isBench && html`<a class="link" href="/nearby">phones</a>`}<a class="button main new" href="/new">new job</a></header>
    <label class="search"><span>find by plate, vehicle, code or words</span><input type="search" value=${search} placeholder="HH-PW 31, P0533, stalls" autocomplete="off" spellcheck=${false}
      onInput=${(event) => type(event.target.value)} /></label>
    ${told && html`<p class="said" role="alert">${told}</p>`}
    <p class="hidden-words" role="status">${list ? `${list.groups.reduce((sum, group) => sum + group.count, 0)} of ${list.all} jobs` : ''}</p>
    ${list && !found && html`<p class="none">${list.all === 0 ? 'No job yet. The first one begins with a plate or name, the vehicle, and what is wrong.' : 'No job is found by that.'}</p>`}
    ${found && html`<div class="groups">${list.groups.map((group) => html`<${Group} key=${group.standing} group=${group} />`)}</div>`}
    ${list?.unreadable.length > 0 && html`<section class="group" aria-label="files that cannot be read"><h2>cannot be read</h2>
      <ul>${list.unreadable.map((file) => html`<li class="unreadable" key=${file.id}><b>${file.id}</b> <span>${file.why}</span></li>`)}</ul>
      <p class="soft">These files were left as they are; the other jobs are not touched by them.</p></section>`}
  </main>`;
}

applyLook();
place.replaceChildren();
rememberList(location.pathname + location.search);
set({});
lookUp();
// Another device may have changed something: a look now and then, and whenever the page is seen again.
setInterval(() => document.visibilityState === 'visible' && lookUp(), AGAIN);
document.addEventListener('visibilitychange', () => document.visibilityState === 'visible' && lookUp());
addEventListener('pageshow', (event) => event.persisted && lookUp());
