// A new job: the circuits of the shop's library, one tap each.
import { html, render } from './html.js';
import { get, post } from './api.js';
import { applyLook } from './look.js';

const place = document.getElementById('start');
const WAIT = 200; // milliseconds between looks whether the job is there
let state = { library: [], left_out: [], words: '', told: '', busy: false };

function set(change) {
  state = { ...state, ...change };
  render(html`<${Start} />`, place);
}

async function begin(circuit) {
  if (state.busy) return;
  set({ busy: true, told: '' });
  try {
    await post('begin', { library: circuit });
  } catch (error) {
    set({ busy: false, told: `${error.message}. ${error.help}` });
    return;
  }
  const open = async () => {
    try {
      await get('job');
      location.reload();
    } catch {
      setTimeout(open, WAIT);
    }
  };
  open();
}

/** Circuits that have every word that was typed, by group. */
function groups() {
  const words = state.words.toLowerCase().split(/\s+/).filter(Boolean);
  const fits = ({ group, name, title }) => words.every((word) => `${group} ${name} ${title}`.toLowerCase().includes(word));
  return [...Map.groupBy(state.library.filter(fits), ({ group }) => group)];
}

function Start() {
  const found = groups();
  return html`<main class="start">
    <h1>Which circuit?</h1>
    ${state.told && html`<p class="told" role="alert">${state.told}</p>`}
    ${state.library.length === 0 && html`<p>The library is empty. Keep a circuit first: probewise library add CIRCUIT --group GROUP --name NAME</p>`}
    ${state.library.length > 0 && html`<input type="search" aria-label="vehicle or circuit" placeholder="vehicle or circuit" value=${state.words}
      onInput=${(event) => set({ words: event.target.value })} />`}
    ${state.library.length > 0 && found.length === 0 && html`<p>No circuit has these words.</p>`}
    ${found.map(([group, circuits]) => html`<section key=${group}><h2>${group}</h2><ul>${circuits.map((one) => html`<li key=${one.circuit}>
      <button class="circuit" disabled=${state.busy} onClick=${() => begin(one.circuit)}>${one.name}<small>${one.title} · ${one.date}</small></button>
    </li>`)}</ul></section>`)}
    ${state.left_out.map((why) => html`<p class="told" key=${why}>${why}</p>`)}
  </main>`;
}

applyLook();
place.replaceChildren();
get('circuits').then(set, (error) => set({ told: `${error.message}. ${error.help}` }));
