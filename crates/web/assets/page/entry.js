// Your reading: instrument, leads, the keys, and what the intended test is worth before it is made.
import { html } from './html.js';
import { instrument, testText, units, withInstrument } from './intent.js';
import { note, undoRedo } from './deeds.js';
import { set, state } from './store.js';
import { Outcomes } from './next.js';
import { Safety } from './safety.js';

const DIGITS = ['1', '2', '3', '4', '5', '6', '7', '8', '9', '±', '0', '.'];

function press(key) {
  const text = state.value;
  if (key === '±') return set({ value: text.startsWith('-') ? text.slice(1) : `-${text}` });
  if (key === '⌫') return set({ value: text.slice(0, -1) });
  if (key === '.' && text.includes('.')) return undefined;
  return set({ value: text.length < 12 ? text + key : text });
}

function Places({ label, lead, places }) {
  const value = state[lead];
  const options = places.some((one) => one.path === value) || !value ? places : [{ path: value, words: value }, ...places];
  return html`<label class=${instrument().leads.length < 2 ? 'field wide' : 'field'}>
    <span>${label}</span>
    <select value=${value} onChange=${(event) => set({ [lead]: event.target.value, judge: null, ...unitFor(lead, event.target.value) })}>
      ${!value && html`<option value="">tap a terminal</option>`}
      ${options.map((one) => html`<option key=${one.path} value=${one.path} selected=${one.path === value}>${one.words}</option>`)}
    </select>
  </label>`;
}

function unitFor(lead, place) {
  return lead === 'red' ? { unit: units(instrument(), place)[0] ?? '' } : {};
}

function Keys({ tool }) {
  const sides = units(tool, state.red);
  // The right column holds units, a step back and what the instrument shows other than a number, as far as it goes.
  const side = [...sides.map((unit) => ({ unit })), { back: true }, ...tool.answers.map((answer) => ({ answer }))];
  const key = (one) => {
    if (!one) return html`<span></span>`;
    if (one.back) return html`<button class="side digit" aria-label="delete the last digit" onClick=${() => press('⌫')}>⌫</button>`;
    if (one.unit !== undefined) {
      return html`<button class="side" aria-pressed=${state.unit === one.unit} onClick=${() => set({ unit: one.unit })}>${one.unit || 'number'}</button>`;
    }
    return html`<button class="side" onClick=${() => note(one.answer.text)}>${one.answer.words}</button>`;
  };
  const rows = [0, 1, 2, 3];
  return html`<div class="keys">
    ${rows.map((row) => html`
      ${DIGITS.slice(row * 3, row * 3 + 3).map((digit) => html`<button class="digit" key=${digit}
        aria-label=${digit === '±' ? 'change sign' : digit === '.' ? 'point' : digit} onClick=${() => press(digit)}>${digit}</button>`)}
      ${key(side[row])}`)}
    ${side.slice(4).map(key)}
  </div>`;
}

function Answers({ tool }) {
  return html`<div class="answers">${tool.answers.map((answer) => html`<button class="button" key=${answer.text}
    disabled=${!testText()} onClick=${() => note(answer.text)}>${answer.words}</button>`)}</div>`;
}

function Judging() {
  const { judge } = state;
  if (!testText()) return html`<p class="judging soft">Tap a terminal on the picture: that is where the red lead goes. A second tap moves the black one; until then it is on battery −.</p>`;
  if (!judge) return html`<p class="judging soft">working out what this could do …</p>`;
  return html`<div class="judging" aria-live="polite">
    <${Safety} safety=${judge.safety} />
    <p class=${judge.tells ? 'worth soft' : 'worth worthless'}>${judge.worth}${judge.healthy ? html` <span class="soft">In order it would read ${judge.healthy}.</span>` : ''}</p>
    ${judge.remarks.map((remark) => html`<p class="soft" key=${remark}>Mind: ${remark}.</p>`)}
    ${judge.outcomes.length > 0 && html`<details class="phone-only"><summary>what it would mean</summary><${Outcomes} outcomes=${judge.outcomes} /></details>`}
  </div>`;
}

export function Entry() {
  const { job, todo, message } = state;
  const tool = instrument();
  const numeric = units(tool, state.red).length > 0;
  return html`<section class="card entry" aria-label="your reading">
    <div class="entry-head">
      <button class="link phone-only" onClick=${() => set({ measuring: false, todo: [] })}>‹ back</button><span class="grow phone-only"></span>
      <label class="field"><span>instrument</span><select aria-label="instrument" value=${tool.id} onChange=${(event) => set(withInstrument(event.target.value))}>
        ${job.instruments.map((one) => html`<option key=${one.id} value=${one.id} selected=${one.id === tool.id}>${one.words}</option>`)}
      </select></label></div>
    <div class="leads">
      <${Places} label=${tool.leads[0]} lead="red" places=${tool.places.length ? tool.places : job.points} />
      ${tool.leads.length > 1 && html`<${Places} label=${tool.leads[1]} lead="black" places=${job.points} />`}
    </div>
    <div class="entry-judge" role="region" aria-label="what this would do" tabindex="0">
      ${todo.length > 0 && html`<small>then ${todo.length} more: ${todo[0].words}</small>`}
      ${message && html`<p class="said" role="alert">${message}</p>`}
      <${Judging} />
    </div>
    <div class="entry-keys">
      ${numeric && html`<form class="display" onSubmit=${(event) => { event.preventDefault(); note(); }}>
        <label for="value">shows</label>
        <input id="value" inputmode="none" autocomplete="off" value=${state.value} placeholder="–"
          onInput=${(event) => set({ value: event.target.value })} />
        <span class="unit">${state.unit}</span>
      </form>`}
      ${numeric ? html`<${Keys} tool=${tool} />` : html`<${Answers} tool=${tool} />`}
      <div class="note-row">
        ${numeric && html`<button class="button main" disabled=${testText() === '' || !state.value} onClick=${() => note()}>${state.twin ? "note twin's reading" : 'note reading'}</button>`}
        <button class=${state.twin ? 'chip on' : 'chip'} aria-pressed=${state.twin} onClick=${() => set({ twin: !state.twin })}>on a sound twin</button>
        <button class="button phone-only" disabled=${!state.answer?.undo} title=${state.answer?.undo?.words ?? ''} onClick=${() => undoRedo('undo')}>undo</button>
      </div>
    </div>
  </section>`;
}
