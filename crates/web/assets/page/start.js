// A new job: what is typed of the vehicle and its trouble is told in plain words and brings the circuits that fit.
import { html, render, useState } from './html.js';
import { get, newest, post } from './api.js';
import { list } from './back.js';
import { applyLook, look, nextLook } from './look.js';
import { Make, Onward } from './make.js';

const place = document.getElementById('start');
const SHOP = location.pathname === '/new'; // among the jobs of a shop
const WAIT = 200; // milliseconds between looks whether the job is there
const STILL = 200; // milliseconds after the last letter until circuits are looked for
const typed = { plate: '', vehicle: '', wrong: '', codes: '', vin: '' };
let state = { typed, offered: null, chosen: [], seen: {}, withVin: false, withCodes: false, all: false, making: false, answers: {}, keep: null, told: '', busy: false };

function set(change) {
  state = { ...state, ...change };
  render(html`<${Start} />`, place);
}

const said = (error) => set({ busy: false, told: [error.message, error.help].filter(Boolean).join('. ') });
const askOffers = newest(get);
let waiting = 0;

function lookUp() {
  askOffers('offers', state.typed).then((offered) => offered && set({ offered }), said);
}

function type(name, text) {
  set({ typed: { ...state.typed, [name]: text }, told: '' });
  clearTimeout(waiting);
  waiting = setTimeout(lookUp, STILL);
}

/** Begins the job. It is one of the shop's, or this address serves it from then on. */
async function begin(of) {
  if (state.busy) return;
  set({ busy: true, told: '' });
  let begun;
  try {
    begun = await post('begin', { typed: state.typed, of });
  } catch (error) {
    said(error);
    return;
  }
  if (begun.job) {
    location.assign(`/job/${encodeURIComponent(begun.job)}/`);
    return;
  }
  const open = () => get('job').then(() => location.reload(), () => setTimeout(open, WAIT));
  open();
}

/** Chooses a circuit to be made one with others, or no longer. `kept` is one of the library, which stays in sight. */
function choose(name, kept) {
  const { chosen, seen } = state;
  set({ seen: kept ? { ...seen, [name]: kept } : seen, chosen: chosen.includes(name) ? chosen.filter((other) => other !== name) : [...chosen, name], told: '' });
}

function make() {
  history.pushState(null, '');
  set({ making: true, told: '' });
  scrollTo(0, 0);
}

function Field({ name, words, hint, ...more }) {
  return html`<label class="ask"><span>${words}</span><input value=${state.typed[name]} placeholder=${hint} autocomplete="off" spellcheck=${false}
    onInput=${(event) => type(name, event.target.value)} ...${more} /></label>`;
}

const STATES = { present: 'present now', pending: 'pending', history: 'stored only' };

/** Codes with their states, as one types them. */
const written = (codes) => codes.map(({ typed, state, seen }) => [typed, state === 'present' ? '' : state, seen && `(${seen})`].filter(Boolean).join(' ')).join(', ');

/** One code gets another state, or another time at which it was seen: the text that is typed follows. */
function restate(at, change) {
  const codes = state.offered.codes.map((one, idx) => (idx === at ? { ...one, ...change } : one));
  set({ offered: { ...state.offered, codes }, withCodes: true });
  type('codes', written(codes));
}

function Code({ one, at }) {
  const states = Object.keys(STATES);
  const next = states[(states.indexOf(one.state) + 1) % states.length];
  return html`<li class=${one.is_code ? '' : 'wrong'}><b>${one.is_code ? `${one.code} ` : ''}</b>${one.says}
    ${one.more.map((line) => html`<small key=${line}>${line}</small>`)}
    ${one.is_code && html`<div class="found"><button class="chip" aria-label=${`${one.code} is ${STATES[one.state]}, tap for ${STATES[next]}`}
      onClick=${() => restate(at, { state: next })}>${STATES[one.state]}</button>
      ${(one.state !== 'present' || one.seen) && html`<${Seen} one=${one} keep=${(seen) => restate(at, { seen })} />`}</div>`}</li>`;
}

/** What is being typed stays as it is until it is kept, however often the page is drawn meanwhile. */
function Seen({ one, keep }) {
  const [typed, type] = useState(null);
  const done = (event) => {
    keep(event.target.value.replace(/[()]/g, ' ').trim());
    type(null);
  };
  return html`<input value=${typed ?? one.seen} placeholder="seen when? 81 200 km" aria-label=${`${one.code} seen when`} autocomplete="off"
    onInput=${(event) => type(event.target.value)} onChange=${done} />`;
}

/** What codes have in common comes before any one of them. */
function Decoded({ codes, together }) {
  return html`<ul class="decoded" aria-live="polite">
    ${together.map((line) => html`<li key=${line}>${line}</li>`)}
    ${codes.map((one, at) => html`<${Code} key=${one.code} one=${one} at=${at} />`)}
  </ul>`;
}

function Vin({ vin }) {
  return html`<ul class="decoded" aria-live="polite"><li class=${vin.is_vin ? '' : 'wrong'}>${vin.told.map((line) => html`<small key=${line}>${line}</small>`)}</li></ul>`;
}

const inLibrary = (one) => `library:${one.circuit}`;

function Library({ library, kept }) {
  const others = state.chosen.filter((name) => state.seen[name] && !library.some((one) => inLibrary(one) === name)).map((name) => state.seen[name]);
  const groups = [...Map.groupBy([...library, ...others], ({ group }) => group)];
  return html`<section class="circuits"><h2>From the shop’s library</h2>
    ${groups.map(([group, circuits]) => html`<h3 key=${group}>${group}</h3><ul class="circuits">${circuits.map((one) => html`<li class="beside" key=${one.circuit}>
      <button class="circuit kept" disabled=${state.busy} onClick=${() => begin({ library: one.circuit })}><b>${one.name}</b><small>${one.title} · ${one.date}</small></button>
      <button class=${state.chosen.includes(inLibrary(one)) ? 'chip on' : 'chip'} aria-pressed=${state.chosen.includes(inLibrary(one))} aria-label=${`with others: ${one.name} of ${group}`}
        onClick=${() => choose(inLibrary(one), one)}>with others</button></li>`)}</ul>`)}
    ${library.length === 0 && html`<p class="soft">None of its ${kept} fits what is typed.</p>`}
  </section>`;
}

function Ready({ ready }) {
  const asked = ready.filter((one) => one.because.length > 0);
  // What was chosen stays in sight.
  const shown = state.all ? ready : ready.filter((one) => asked.includes(one) || state.chosen.includes(one.name));
  const something = state.typed.codes.trim() || state.typed.wrong.trim();
  return html`<section class="circuits"><h2>Ready-made circuits</h2>
    ${asked.length === 0 && html`<p class="soft">${something ? 'None is known by that.' : 'Type codes or what is wrong: the circuits that fit show here.'}</p>`}
    ${shown.length > 0 && html`<p class="soft">Tap one, or several: they become one circuit.</p>`}
    <ul class="circuits">${shown.map((one) => html`<li key=${one.name}><button class="circuit" aria-pressed=${state.chosen.includes(one.name)} onClick=${() => choose(one.name)}>
      <b>${one.title}</b><small>${one.about}</small>${one.because.length > 0 && html`<small>for ${one.because.join(', ')}</small>`}</button></li>`)}</ul>
    <button class="link" aria-expanded=${state.all} onClick=${() => set({ all: !state.all })}>${state.all ? 'only those that fit' : `all ${ready.length} ready-made circuits`}</button>
  </section>`;
}

function Start() {
  const { offered, chosen, told } = state;
  if (state.making) {
    return html`<${Make} ...${state} set=${set} begin=${(made) => begin({ made })} failed=${said} />`;
  }
  return html`<main class="start">
    <header>${SHOP && html`<a class="link" href=${list()}>‹ jobs</a>`}<h1>A new job</h1><button class="link" aria-label=${`look: ${look()}, tap for the next`} onClick=${() => { nextLook(); set({}); }}>look: ${look()}</button></header>
    <div class="typed">
      <${Field} name="plate" words="plate or name" hint="HH-PW 31" />
      <${Field} name="vehicle" words="vehicle" hint="delivery van" />
      <${Field} name="wrong" words="what is wrong, or which part; codes go here too" hint="stalls when warm, P0335" />
      <div class="more">${!state.withVin && html`<button class="button" onClick=${() => set({ withVin: true })}>+ VIN</button>`}
        ${!state.withCodes && html`<button class="button" onClick=${() => set({ withCodes: true })}>+ codes</button>`}</div>
      ${state.withVin && html`<${Field} name="vin" words="its identification number (VIN)" hint="17 letters and digits" autocapitalize="characters" />`}
      ${state.withVin && offered?.vin && html`<${Vin} vin=${offered.vin} />`}
      ${state.withCodes && html`<${Field} name="codes" words="trouble codes" hint="P0335 P0122 pending" autocapitalize="characters" />`}
      ${offered && (offered.codes.length > 0) && html`<${Decoded} ...${offered} />`}
    </div>
    ${offered && html`<div class="brought">
      ${offered.kept > 0 && html`<${Library} ...${offered} />`}
      <${Ready} ready=${offered.ready} />
      ${offered.left_out.map((why) => html`<p class="said" key=${why}>${why}</p>`)}
    </div>`}
    ${(told || chosen.length > 0) && html`<${Onward} told=${told}>${chosen.length > 0 && html`<button class="button main" onClick=${make}>go on with ${chosen.length === 1 ? 'this circuit' : `these ${chosen.length} circuits`}</button>`}<//>`}
  </main>`;
}

applyLook();
addEventListener('popstate', () => set({ making: false, told: '' }));
place.replaceChildren();
lookUp();
