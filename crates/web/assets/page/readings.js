// Readings so far, each with how it stands, and taking one back.
import { html } from './html.js';
import { takeBack, undoRedo } from './deeds.js';
import { unsent } from './queue.js';
import { state } from './store.js';

const clock = (ms) => new Date(ms).toLocaleTimeString([], { hour: '2-digit', minute: '2-digit', hour12: false });

function Reading({ reading }) {
  return html`<li class=${`reading ${reading.standing}`}>
    <time>${clock(reading.at_ms)}</time>
    <span class="grow"><span class="what">${reading.what}</span><small class="stood">${reading.set_up_short}</small><small class="verdict">${reading.verdict}</small></span>
    <span class="shown">${reading.shown}</span>
    <button class="take-back" aria-label=${`take back ${reading.what}, ${reading.shown}`} onClick=${() => takeBack(reading.event)}>✕</button>
  </li>`;
}

export function Readings() {
  const { answer } = state;
  const waiting = unsent().filter((event) => event.what === 'reading');
  return html`<section class="card" aria-label="readings">
    <div class="card-head"><h2>Readings</h2><span>
      <button class="link" disabled=${!answer.undo} onClick=${() => undoRedo('undo')}>undo</button> ${' '}
      <button class="link" disabled=${!answer.redo} onClick=${() => undoRedo('redo')}>redo</button></span></div>
    <ul>${answer.readings.map((reading) => html`<${Reading} key=${reading.event} reading=${reading} />`)}
      ${waiting.map((event) => html`<li class="reading waiting" key=${event.id}><time>${clock(event.at_ms)}</time>
        <span>${event.test} <small class="stood">${event.set_up}</small><small class="verdict">waiting to be sent</small></span><span class="shown">${event.shown}</span><span></span></li>`)}</ul>
    ${!answer.readings.length && !waiting.length && html`<p class="soft">None yet.</p>`}
    ${answer.troubles.map((trouble) => html`<p class="said" key=${trouble}>${trouble}</p>`)}
  </section>`;
}
