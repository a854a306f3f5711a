// Readings so far, each with how it stands, and taking one back.
import { html } from './html.js';
import { Done } from './done.js';
import { takeBack, undoRedo } from './deeds.js';
import { unsent } from './queue.js';
import { state } from './store.js';
import { Table } from './table.js';

const clock = (ms) => new Date(ms).toLocaleTimeString([], { hour: '2-digit', minute: '2-digit', hour12: false });

function Reading({ reading }) {
  return html`<li class=${`reading ${reading.standing}`}>
    <time>${clock(reading.at_ms)}</time>
    <span class="grow"><span class="what">${reading.what}</span><small class="stood">${reading.set_up_short}${reading.seen && `; seen ${reading.seen}`}</small><small class="verdict">${reading.verdict}</small></span>
    <span class="shown">${reading.shown}</span>
    <button class="take-back" aria-label=${`take back ${reading.what}, ${reading.shown}`} onClick=${() => takeBack(reading.event)}>✕</button>
  </li>`;
}

/** Something done between two readings. */
function Act({ act }) {
  return html`<li class="reading act"><time>${clock(act.at_ms)}</time><span class="grow">${act.words}</span><span></span>
    <button class="take-back" aria-label=${`take back ${act.words}`} onClick=${() => takeBack(act.event)}>✕</button></li>`;
}

/** Readings, a twin's readings and deeds in the order in which they happened. */
function rows({ readings, twin, acts }) {
  const all = [...readings, ...twin].map((reading) => ({ at: reading.at_ms, row: html`<${Reading} key=${reading.event} reading=${reading} />` }));
  const done = acts.map((act) => ({ at: act.at_ms, row: html`<${Act} key=${act.event} act=${act} />` }));
  return [...all, ...done].sort((one, other) => one.at - other.at).map((one) => one.row);
}

export function Readings() {
  const { answer } = state;
  const waiting = unsent().filter((event) => event.what === 'reading');
  return html`<section class="card" aria-label="readings">
    <div class="card-head"><h2>Readings</h2><span>
      <button class="link" disabled=${!answer.undo} onClick=${() => undoRedo('undo')}>undo</button> ${' '}
      <button class="link" disabled=${!answer.redo} onClick=${() => undoRedo('redo')}>redo</button></span></div>
    ${!state.didOpen && html`<ul>${rows(answer)}
      ${waiting.map((event) => html`<li class="reading waiting" key=${event.id}><time>${clock(event.at_ms)}</time>
        <span>${event.test} <small class="stood">${event.set_up}</small><small class="verdict">waiting to be sent</small></span><span class="shown">${event.shown}</span><span></span></li>`)}</ul>`}
    ${!answer.readings.length && !waiting.length && html`<p class="soft">None yet.</p>`}
    <${Done} />
    <${Table} />
    ${state.job.vin && html`<p class="soft vin">VIN ${state.job.vin.vin}. ${state.job.vin.told.join(' ')}</p>`}
    ${answer.troubles.map((trouble) => html`<p class="said" key=${trouble}>${trouble}</p>`)}
  </section>`;
}
