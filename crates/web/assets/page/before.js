// What to beware of with this circuit: told before anything is measured, and within reach afterwards.
import { html, useState } from './html.js';
import { state } from './store.js';

export function Before() {
  const { job, answer } = state;
  const [turned, turn] = useState(null);
  if (!job.cautions.length) return null;
  const measured = answer.readings.some((one) => !one.test.startsWith('code '));
  const open = turned ?? !measured;
  return html`<section class="card before" aria-label="before you start">
    <div class="card-head"><h2>Before you start</h2>${!open && html`<button class="link" aria-expanded="false" onClick=${() => turn(true)}>show</button>`}</div>
    ${open && html`<ul>${job.cautions.map((line) => html`<li class="caution" key=${line}>${line}</li>`)}</ul>
      <button class="button main" onClick=${() => turn(false)}>understood</button>`}
  </section>`;
}
