// Measure next: the proposal, what each outcome would mean, and the other proposals one tap away.
import { html, useState } from './html.js';
import { plan } from './deeds.js';
import { set, state } from './store.js';
import { Safety } from './safety.js';

const TOLD = 3; // outcomes shown at once, the likeliest

export function Outcomes({ outcomes }) {
  const [all, showAll] = useState(false);
  const shown = all ? outcomes : outcomes.slice(0, TOLD);
  return html`<ul class="outcomes">${shown.map((one) => html`<li class="outcome" key=${one.shows}>
    <b>${one.shows}</b><small>${one.means}</small><span class="percent">${one.percent}</span></li>`)}</ul>
    ${shown.length < outcomes.length && html`<button class="link" onClick=${() => showAll(true)}>${outcomes.length - shown.length} rarer</button>`}`;
}

export function Next() {
  const [chosen, choose] = useState(0);
  const { answer } = state;
  const old = answer.latest > answer.version || answer.proposals_pending;
  const proposal = answer.next[Math.min(chosen, answer.next.length - 1)];
  const done = answer.conclusion.kind !== 'open';
  return html`<section class="card next" aria-label="measure next" aria-busy=${old} data-stands=${answer.set_up}>
    <div class="card-head"><h2>${done ? 'Where it stands' : 'Measure next'}</h2><b>${proposal && !done ? proposal.minutes : ''}</b></div>
    ${answer.codes_share && html`<p class="codes-share">${answer.codes_share}</p>`}
    ${answer.failure && html`<p class="said">${answer.failure}</p>`}
    ${done && html`<p class="next-title conclusion">${answer.conclusion.words}</p>`}
    ${!proposal && !done && html`<p class="next-title">${old ? 'Working out the next measurement …' : 'Nothing on offer would tell more.'}</p>`}
    ${proposal && html`
      ${done && html`<small>If you want to be surer: (${proposal.minutes})</small>`}
      <p class="next-title">${proposal.title}</p>
      ${proposal.how.length > 0 && html`<p class="how soft">${proposal.how.join(' · ')}</p>`}
      <div class="row"><button class="button main grow" onClick=${() => plan(proposal.set_up, proposal.tests)}>do it</button>
        ${answer.next.length > 1 && html`<button class="button" onClick=${() => choose((Math.min(chosen, answer.next.length - 1) + 1) % answer.next.length)}>another test</button>`}
        </div>
      <${Outcomes} outcomes=${proposal.outcomes} />
      <${Safety} safety=${proposal.safety} />`}
    ${!old && answer.bill && html`<p class=${answer.bill.ask_first ? 'bill said' : 'bill soft'}>${answer.bill.words}</p>`}
    ${!old && answer.chosen_from && html`<p class="bill soft">${answer.chosen_from}</p>`}
    ${!done && !old && proposal && !state.planning && html`<button class="link" onClick=${() => set({ planning: true })}>plan further ahead</button>`}
    <button class="link phone-only" onClick=${() => set({ measuring: true })}>measure something else</button>
    ${old && proposal && html`<p class="soft" role="status">older than your last reading; working …</p>`}
  </section>`;
}
