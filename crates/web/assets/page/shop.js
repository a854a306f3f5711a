// The shop's solved jobs: what they make of the chances, this job counted among them, and the switch.
import { html } from './html.js';
import { post } from './api.js';
import { set, state } from './store.js';

let counting = false;

async function order(what) {
  counting = 'count' in what;
  set({ message: '' });
  try {
    const shop = await post('shop', what);
    set({ answer: { ...state.answer, shop } });
  } catch (error) {
    set({ message: `${error.message}. ${error.help ?? ''}` });
  } finally {
    counting = false;
    set({});
  }
}

const jobs = (count) => `${count} solved ${count === 1 ? 'job' : 'jobs'}`;

/** Offered once the repair is proved, and again as long as this job is not counted. */
export function Count() {
  const { shop } = state.answer;
  if (!shop || state.proof?.standing !== 'proved') return null;
  if (shop.counted) return html`<p class="soft">This job counts among the shop's ${jobs(shop.jobs)}.</p>`;
  return html`<div class="shop-count"><button class="button main" disabled=${counting} onClick=${() => order({ count: {} })}>${counting ? 'counting …' : 'count this job in the shop’s rates'}</button>
    <p class="soft">Later jobs then start from what this shop really finds.</p></div>`;
}

/** What the solved jobs make of the chances, and the switch that leaves them out. */
export function Shop() {
  const { shop } = state.answer;
  if (!shop || !shop.jobs) return null;
  const [shape, are] = shop.jobs === 1 ? ['shapes', 'is'] : ['shape', 'are'];
  return html`<section class="card shop" aria-label="the shop’s solved jobs">
    <div class="card-head"><h2>The shop’s solved jobs</h2>
      <button class="button" aria-label=${shop.on ? 'leave out the shop’s solved jobs' : 'use the shop’s solved jobs'} onClick=${() => order({ use: !shop.on })}>${shop.on ? 'leave out' : 'use'}</button></div>
    <p>${shop.on ? `The shop’s ${jobs(shop.jobs)} ${shape} these chances.` : `The shop’s ${jobs(shop.jobs)} ${are} left out of these chances.`}</p>
    ${shop.on && shop.effect.length > 0 && html`<ul class="assumed">${shop.effect.map((line) => html`<li key=${line}>${line}</li>`)}</ul>`}
  </section>`;
}
