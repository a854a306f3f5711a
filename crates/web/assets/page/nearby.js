// Letting a phone in, on the bench's own screen: a code for one device, and those that are in.
import { html, render } from './html.js';
import { applyLook, look, nextLook } from './look.js';

const place = document.getElementById('nearby');
const AGAIN = 2000; // milliseconds between two looks who is in
let state = { view: null, invited: null, told: '', before: 0 };

function set(change) {
  state = { ...state, ...change };
  render(html`<${Nearby} />`, place);
}

async function ask(path, body) {
  const options = body && { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) };
  let response;
  try {
    response = await fetch(`/nearby/${path}`, options);
  } catch {
    set({ told: 'The program cannot be reached. Is it still running?' });
    return null;
  }
  const answer = await response.json().catch(() => ({ message: `refused (${response.status})`, help: '' }));
  if (response.ok) return answer;
  set({ told: `${answer.message}. ${answer.help}` });
  return null;
}

async function refresh() {
  const view = await ask('state');
  if (!view) return;
  // One more than when the code was shown: it was used.
  const used = state.invited && view.devices.length > state.before;
  set({ view, ...(used && { invited: null, told: '' }) });
}

async function invite() {
  const before = state.view?.devices.length ?? 0;
  const invited = await ask('invite', {});
  if (invited) set({ invited: { ...invited, until_ms: Date.now() + invited.for_ms }, before, told: '' });
}

async function forget(device) {
  const view = await ask('forget', { id: device.id });
  if (view) set({ view, told: '' });
}

const when = (ms) => new Date(ms).toLocaleString([], { day: 'numeric', month: 'short', hour: '2-digit', minute: '2-digit', hour12: false });
const image = (code) => `data:image/svg+xml,${encodeURIComponent(code)}`;

function Code({ link }) {
  return html`<div class="code"><img src=${image(link.code)} alt=${`code of ${link.address.replace(/#.*/, '')}`} /></div>
    <p class="address">${link.address.replace(/join#.*/, '')}</p>`;
}

function Nearby() {
  const { view, invited, told } = state;
  const isOver = invited && Date.now() > invited.until_ms;
  return html`<header><h1>Phones</h1>
      <button class="link" aria-label=${`look: ${look()}, tap for the next`} onClick=${() => { nextLook(); set({}); }}>look: ${look()}</button>
      <a class="button" href="/">jobs</a></header>
    ${told && html`<p class="said" role="alert">${told}</p>`}
    ${invited && !isOver
      ? html`<p>Scan this with the phone's camera, in the shop's network. It lets one device in, until ${when(invited.until_ms)}.</p>
          ${invited.links.map((link) => html`<${Code} key=${link.address} link=${link} />`)}`
      : html`<p>A phone or tablet that was let in sees the same jobs, live. From then on this machine answers in the shop's network, to devices that were let in and to no others.</p>
          <p class="soft">What goes over the network can be read by others in it until the phone trusts the bench: <a href="/install">how</a>.</p>`}
    <button class="button main" onClick=${invite}>${invited ? 'show another code' : 'let a phone in'}</button>
    ${view && html`<section aria-label="devices that are let in"><h2>${view.devices.length === 0 ? 'No device is let in.' : 'Let in'}</h2>
      <ul class="devices">${view.devices.map((device) => html`<li key=${device.id}><span><b>${device.name}</b> <small>since ${when(device.since_ms)}, last here ${when(device.seen_ms)}</small></span>
        <button class="button" aria-label=${`shut out: ${device.name}`} onClick=${() => forget(device)}>shut out</button></li>`)}</ul></section>`}`;
}

applyLook();
place.replaceChildren();
set({});
refresh();
setInterval(() => document.visibilityState === 'visible' && refresh(), AGAIN);
