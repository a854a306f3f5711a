// A plan: the next test, and what to do after each thing that it may show, as a short tree to read ahead or to print.
import { html } from './html.js';
import { set, state } from './store.js';

function Node({ node }) {
  if (node.kind === 'later') return null;
  if (node.kind === 'stop') return html`<p class="plan-end">${node.words}</p>`;
  return html`<div class="plan-step">
    <p><b>${node.title}</b> <small>${node.minutes}</small></p>
    ${node.how.length > 0 && html`<p class="soft">${node.how.join(' · ')}</p>`}
    ${node.tests.length > 0 && html`<ul class="soft">${node.tests.map((test) => html`<li key=${test}>${test}</li>`)}</ul>`}
    ${node.cautions.map((words) => html`<p class="caution soft" key=${words}>${words}</p>`)}
    <ul class="plan-branches">${node.branches.map((branch) => html`<li key=${branch.shows}>
      <p class="plan-if">if <b>${branch.shows}</b> <small>${branch.percent}</small></p>
      <p class="soft">${branch.means}</p>
      <${Node} node=${branch.then} /></li>`)}</ul>
  </div>`;
}

export function Plan() {
  const { planning, plan, job } = state;
  if (!planning) return null;
  const share = plan?.share ?? 0;
  return html`<section class="card plan" aria-label="plan" aria-busy=${!plan?.tree}>
    <div class="card-head"><h2>Plan</h2><span class="row screen-only">
      ${plan?.tree && html`<button class="link" onClick=${() => print()}>print</button>`}
      <button class="link" onClick=${() => set({ planning: false, plan: null })}>close</button></span></div>
    <p class="print-only">${job.title}: ${job.complaint}</p>
    ${plan?.failure && html`<p class="said">${plan.failure}</p>`}
    ${!plan?.tree && !plan?.failure && html`<div role="status"><label class="soft">working out the plan …
      <progress max="1" value=${share}>${Math.round(100 * share)} %</progress></label></div>`}
    ${plan?.tree && html`<${Node} node=${plan.tree} />`}
  </section>`;
}
