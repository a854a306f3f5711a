// How the vehicle stands: chips that show it and change it with a tap.
import { html } from './html.js';
import { clauses, says, sensedValue, toggle, usualValue, withKey, withSensed } from './clauses.js';
import { stand } from './deeds.js';
import { set, state } from './store.js';

/** Clauses that no chip stands for: jumpers and substitutes. */
function placed(text, job) {
  const known = [...job.keys, ...toggles(job)].map((choice) => choice.clause);
  const sensed = job.sensed.map((one) => `${one.id} `);
  return clauses(text).filter((clause) => !known.includes(clause) && !sensed.some((start) => clause.startsWith(start)));
}

const toggles = (job) =>
  [job.connectors, job.loads, job.accessories, job.fuses, job.relays, job.battery].flat();

function Toggle({ choice }) {
  const on = says(state.setUp, choice.clause);
  return html`<button class=${on ? 'chip on' : 'chip'} aria-pressed=${on} 
    onClick=${() => stand(toggle(state.setUp, choice.clause), choice.caution)}>${on ? choice.words : choice.otherwise}</button>`;
}

function Sensed({ sensed }) {
  const value = sensedValue(state.setUp, sensed);
  const step = (sensed.high - sensed.low) / 16;
  const move = (by) => {
    const next = Math.min(sensed.high, Math.max(sensed.low, value + by));
    stand(withSensed(state.setUp, sensed, Number(next.toPrecision(4))));
  };
  return html`<span class="chip stepper" role="group" aria-label=${sensed.words}>
    <button aria-label=${`less ${sensed.words}`} onClick=${() => move(-step)}>−</button>
    <span class="stepper-value"><span>${sensed.words}</span><b>${value} ${sensed.unit}</b></span>
    <button aria-label=${`more ${sensed.words}`} onClick=${() => move(step)}>+</button>
  </span>`;
}

function Group({ title, choices }) {
  if (!choices.length) return null;
  return html`<div class="chip-group"><h3>${title}</h3><div class="chips">
    ${choices.map((choice) => html`<${Toggle} key=${choice.clause} choice=${choice} />`)}</div></div>`;
}

const partWords = (id) => state.job.parts.find((part) => part.id === id)?.words ?? id;

/** The clause that says what is done to a part meanwhile, taken apart; nothing if there is none. */
function meanwhile(text, job) {
  const clause = clauses(text).find((one) => job.provocations.some((how) => one.startsWith(`${how.text} `)));
  const [how, ...part] = clause ? clause.split(' ') : ['', ''];
  return { clause, how, part: part.join(' ') };
}

/** What is done to one part while the reading is taken. */
function Meanwhile({ job, setUp }) {
  const now = meanwhile(setUp, job);
  const say = (part) => {
    const rest = now.clause ? toggle(setUp, now.clause) : setUp;
    stand(part ? toggle(rest, `${now.how || job.provocations[0].text} ${part}`) : rest);
  };
  const turn = (how) => stand(toggle(toggle(setUp, now.clause), `${how} ${now.part}`));
  return html`<div class="chip-group"><h3>done to a part while you read</h3><div class="chips">
    <select aria-label="part" value=${now.part} onChange=${(event) => say(event.target.value)}><option value="">nothing</option>
      ${job.parts.map((part) => html`<option key=${part.id} value=${part.id} selected=${part.id === now.part}>${part.words}</option>`)}</select>
    ${now.clause && job.provocations.map((how) => html`<button key=${how.text} class=${how.text === now.how ? 'chip on' : 'chip'} aria-pressed=${how.text === now.how}
      onClick=${() => how.text !== now.how && turn(how.text)}>${how.words}</button>`)}
  </div></div>`;
}

/** A clause in words where no chip has any. */
function clauseWords(clause, job) {
  const now = meanwhile(clause, job);
  const how = job.provocations.find((one) => one.text === now.how);
  return how ? `${partWords(now.part)} ${how.words}` : clause;
}

export function SetUp() {
  const { job, setUp, setUpOpen } = state;
  const key = job.keys.find((one) => says(setUp, one.clause)) ?? job.keys[0];
  const shown = toggles(job).filter((choice) => says(setUp, choice.clause) || job.loads.includes(choice));
  const changed = job.sensed.filter((one) => sensedValue(setUp, one) !== usualValue(setUp, one));
  const open = () => set({ setUpOpen: !setUpOpen });
  return html`<section class="setup" aria-label="how the vehicle stands">
    <div class="chips scroll">
      <button class="chip on" aria-expanded=${setUpOpen} onClick=${open}>${key.words}</button>
      ${shown.map((choice) => html`<${Toggle} key=${choice.clause} choice=${choice} />`)}
      ${changed.map((one) => html`<button class="chip on" key=${one.id} onClick=${open}>${one.words} ${sensedValue(setUp, one)} ${one.unit}</button>`)}
      ${placed(setUp, job).map((clause) => html`<button class="chip on" key=${clause} aria-pressed="true"
        onClick=${() => stand(toggle(setUp, clause))}>${clauseWords(clause, job)} ✕</button>`)}
      <button class="chip quiet" aria-expanded=${setUpOpen} onClick=${open}>${setUpOpen ? 'done' : '+ change set-up'}</button>
    </div>
    ${state.caution && !setUpOpen && html`<p class="caution said-once" role="status">${state.caution}</p>`}
    ${setUpOpen && html`<div class="setup-all">
      ${state.caution && html`<p class="caution" role="status">${state.caution}</p>`}
      <div class="chip-group"><h3>key</h3><div class="chips">${job.keys.map((one) => html`<button key=${one.clause}
        class=${one === key ? 'chip on' : 'chip'} aria-pressed=${one === key} 
        onClick=${() => stand(withKey(setUp, one.clause), one.caution)}>${one.words}</button>`)}</div></div>
      <${Group} title="plugs" choices=${job.connectors} />
      <${Group} title="switched on with the scan tool" choices=${job.loads} />
      ${job.sensed.length > 0 && html`<div class="chip-group"><h3>what the sensors sense</h3><div class="chips">
        ${job.sensed.map((one) => html`<${Sensed} key=${one.id} sensed=${one} />`)}</div></div>`}
      <${Meanwhile} job=${job} setUp=${setUp} />
      <${Group} title="accessories" choices=${job.accessories} />
      <${Group} title="fuses, relays, battery" choices=${[...job.fuses, ...job.relays, ...job.battery]} />
      <div class="chips"><button class="chip quiet" onClick=${() => stand(job.normal)}>everything as usual</button>
        <button class="chip" onClick=${open}>close</button></div>
    </div>`}
  </section>`;
}
