// A repair on trial: the readings that prove it with their bands, what may still be wrong, and sensors from end to end.
import { html } from './html.js';
import { plan } from './deeds.js';
import { Count } from './shop.js';
import { Accept } from './standing.js';
import { set, state } from './store.js';
import { Documents } from './writeup.js';

const READ = { within: '✓ within', outside: '✗ outside' };

function Band({ reading }) {
  return html`<li class=${`band ${reading.read} ${reading.tells ? '' : 'dull'}`}>
    <span class="what">${reading.what}<small class="stood">${reading.set_up_short}</small></span>
    <b class="range">${reading.band}</b>
    <small class="telling">${reading.telling}</small>
    ${reading.read === 'open'
      ? html`<button class="button" aria-label=${`do it: ${reading.what}`} onClick=${() => plan(reading.set_up, [reading.test])}>do it</button>`
      : html`<b class="read">${READ[reading.read]}</b>`}
  </li>`;
}

function Sweep({ sweep }) {
  return html`<details class="sweep"><summary>${sweep.words}</summary>
    <table class="expects"><thead><tr><th>at</th><th>signal</th>${sweep.has_ratio && html`<th>of reference</th>`}</tr></thead>
    ${sweep.steps.map((step) => html`<tbody key=${step.at}><tr><td>${step.at}</td><td>${step.volts}</td>${sweep.has_ratio && html`<td>${step.ratio}</td>`}</tr>
      ${step.scan && html`<tr class="scan"><td colspan=${sweep.has_ratio ? 3 : 2}>scan data ${step.scan}</td></tr>`}</tbody>`)}</table></details>`;
}

export function Proof() {
  const { proof } = state;
  if (!proof) return null;
  return html`<section class=${`card proof ${proof.standing}`} aria-label="proof of repair">
    <div class="card-head"><h2>Proof of repair</h2></div>
    <p class="next-title">${proof.headline}</p>
    <p class="soft">${proof.repair}</p>
    <${Accept} />
    <${Count} />
    <ul class="bands">${proof.readings.map((reading) => html`<${Band} key=${reading.what + reading.set_up} reading=${reading} />`)}</ul>
    <details><summary>What may still be wrong</summary>
      <table class="expects"><thead><tr><th></th><th>now</th><th>once all are within</th></tr></thead>
      <tbody>${proof.left.map((one) => html`<tr key=${one.what}><td>${one.what}</td><td>${one.now}</td><td>${one.then}</td></tr>`)}</tbody></table></details>
    ${proof.sweeps.map((sweep) => html`<${Sweep} key=${sweep.words} sweep=${sweep} />`)}
    ${proof.standing === 'proved' && html`<${Documents} />`}
    <button class="link phone-only" onClick=${() => set({ measuring: true })}>measure something else</button>
  </section>`;
}
