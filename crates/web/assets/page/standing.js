// Where the job stands among the others: open, waiting, proven.
import { html } from './html.js';
import { record } from './deeds.js';
import { state } from './store.js';

const WAITS = [['open', 'open'], ['parts', 'waits for parts'], ['customer', 'waits for customer']];

/** Says what the job waits for; whatever is measured or done at the vehicle opens it again by itself. */
export function Standing() {
  const { standing } = state.answer;
  const choices = standing === 'proven' ? [['proven', 'repair proven'], ...WAITS] : WAITS;
  const choose = (event) => {
    const on = event.target.value;
    record({ what: 'waiting', ...(on === 'open' ? {} : { on }) });
  };
  return html`<select class=${`standing ${standing}`} aria-label="where the job stands" value=${standing} onChange=${choose}>
    ${choices.map(([id, words]) => html`<option key=${id} value=${id} selected=${id === standing}>${words}</option>`)}</select>`;
}

/** Once readings prove the repair, the job is done by a tap. */
export function Accept() {
  const { answer, proof } = state;
  if (proof?.standing !== 'proved') return null;
  if (answer.standing === 'proven') return html`<p class="soft">The proof is accepted: this job is done.</p>`;
  return html`<div class="shop-count"><button class="button main" onClick=${() => record({ what: 'accepted' })}>accept the proof: the job is done</button></div>`;
}
