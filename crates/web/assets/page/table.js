// Scan data or a freeze frame from any tool, pasted as a table: what its columns are, what is odd, and noted as readings.
import { html, useState } from './html.js';
import { post } from './api.js';
import { record } from './deeds.js';
import { state } from './store.js';

/** The words of a refusal. */
const why = (error) => [error.message, error.help].filter(Boolean).join(' ');

function Columns({ told, done }) {
  const rows = told.rows.filter((row) => row.shown);
  const note = () => {
    for (const row of rows) record({ what: 'reading', set_up: told.setUp, test: row.test, shown: row.shown });
    done();
  };
  return html`<ul class="columns">${told.rows.map((row) => html`<li class="reading" key=${row.column}>
      <time></time><span class="grow"><span class="what">${row.words}</span><small class="stood">column ${row.column}</small>
        ${row.odd.map((odd) => html`<small class="verdict" key=${odd}>${odd}</small>`)}</span><span class="shown">${row.shown}</span><span></span></li>`)}</ul>
    ${told.said.map((said) => html`<p class="said" key=${said}>${said}</p>`)}
    ${told.passed_over.map((said) => html`<p class="said" key=${said}>${said}</p>`)}
    ${told.others.length > 0 && html`<p class="soft">Not values of this circuit: ${told.others.join(', ')}.</p>`}
    ${told.rows.length === 0 && html`<p class="said">No column is named like a value of this circuit.</p>`}
    ${rows.length > 0 && html`<button class="button main" onClick=${note}>note ${rows.length === 1 ? 'this reading' : `these ${rows.length} readings`}</button>`}`;
}

function Paste({ close }) {
  const [text, type] = useState('');
  const [told, tell] = useState(null);
  const [wrong, refuse] = useState('');
  const ask = async () => {
    const setUp = state.setUp;
    try {
      tell({ ...(await post('table', { text, set_up: setUp })), setUp });
      refuse('');
    } catch (error) {
      tell(null);
      refuse(why(error));
    }
  };
  return html`<div class="paste">
    <label class="field"><span>scan data as a table: names above, values below, or a name and its value a line; taken as the set-up stands now</span>
      <textarea rows="5" value=${text} placeholder="Coolant temperature (°C);Engine speed (rpm)" onInput=${(event) => type(event.target.value)}></textarea></label>
    ${wrong && html`<p class="said" role="alert">${wrong}</p>`}
    ${told ? html`<${Columns} told=${told} done=${close} />`
    : html`<button class="button main" disabled=${!text.trim()} onClick=${ask}>see what it says</button>`}
  </div>`;
}

export function Table() {
  const [open, turn] = useState(false);
  return html`<div class="did"><button class=${open ? 'link' : 'button'} aria-expanded=${open} onClick=${() => turn(!open)}>
      ${open ? 'close' : 'paste scan data'}</button>
    ${open && html`<${Paste} close=${() => turn(false)} />`}</div>`;
}
