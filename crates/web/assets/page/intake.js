// What was said of the vehicle before anything was measured, and what that does to where suspicion starts.
import { html, useEffect, useRef, useState } from './html.js';
import { get, newest } from './api.js';
import { record } from './deeds.js';
import { Photos } from './photos.js';
import { state } from './store.js';

const STILL = 200; // milliseconds after the last letter until codes are told
const COURSES = [[true, 'comes and goes'], [false, 'there all the time'], [null, 'not known']];

/** An amount as typed; nothing for an empty field, what it was for one that is no amount. */
function amount(typed, before) {
  const text = typed.trim().replace(',', '.');
  const value = Number(text);
  return text === '' ? null : Number.isFinite(value) && value >= 0 ? value : (before ?? null);
}

let told = null; // what was said since the answer that shows: two quick taps must not undo each other

/** What moves suspicion, and the limit. An intake says all of it anew. */
function known() {
  const { version, intake } = state.answer;
  const { replaced, disturbed, accessories, water, accident, comes_and_goes, authorised } = intake;
  const all = told?.after === version ? told.intake : { replaced, disturbed, accessories, water, accident, comes_and_goes, authorised };
  const say = (patch) => {
    told = { after: version, intake: { ...all, ...patch } };
    record({ what: 'intake', ...told.intake });
  };
  return [all, say];
}

/** A field whose text stays as it is typed until the job has it, however often the page is drawn meanwhile. */
function Words({ words, value, hint, keep, lines, ...more }) {
  const [typed, type] = useState(null);
  const sent = useRef(null);
  // Sent, and the answer has it: from here on it shows what the job says, whoever changes it.
  useEffect(() => {
    if (typed !== null && sent.current === value) type(null);
  }, [value, typed]);
  const write = (event) => {
    sent.current = null;
    type(event.target.value);
  };
  const send = (event) => {
    const text = event.target.value.trim();
    sent.current = text;
    if (text === value) type(null);
    else keep(text);
  };
  const field = { value: typed ?? value, placeholder: hint, autocomplete: 'off', onInput: write, onChange: send, ...more };
  return html`<label class="field"><span>${words}</span>${lines ? html`<textarea rows=${lines} ...${field}></textarea>` : html`<input ...${field} />`}</label>`;
}

/** Something told in words: it is written down, found again, and moves nothing. */
function Told({ about, words, hint, lines }) {
  const { intake } = state.answer;
  const value = about === 'complaint' ? intake.complaint : (intake.told[about] ?? '');
  return html`<${Words} words=${words} value=${value} hint=${hint} lines=${lines} keep=${(text) => record({ what: 'told', about, words: text })} />`;
}

/** What was said does this before any reading. */
function Starts({ about }) {
  const starts = state.answer.intake.starts.filter((one) => one.about === about);
  return starts.map((one) => html`<p class="starts" key=${one.part ?? about}>${one.words}</p>`);
}

function Parts({ title, about, of, children }) {
  const [all, say] = known();
  const ids = all[about];
  const keep = (list) => say({ [about]: list });
  const words = (id) => state.job.parts.find((part) => part.id === id)?.words ?? id;
  const others = state.job.parts.filter((part) => of(part) && !ids.includes(part.id));
  return html`<div class="chip-group"><h3>${title}</h3><div class="chips">
    ${ids.map((id) => html`<button class="chip on" key=${id} aria-pressed="true" onClick=${() => keep(ids.filter((other) => other !== id))}>${words(id)} ✕</button>`)}
    <select aria-label=${title} value="" onChange=${(event) => event.target.value && keep([...ids, event.target.value])}>
      <option value="">add a part</option>${others.map((part) => html`<option key=${part.id} value=${part.id}>${part.words}</option>`)}</select>
  </div><${Starts} about=${about} />${children}</div>`;
}

function Harm() {
  const [all, say] = known();
  const flag = (name, words) => html`<button class=${all[name] ? 'chip on' : 'chip'} aria-pressed=${all[name]} onClick=${() => say({ [name]: !all[name] })}>${words}</button>`;
  return html`<div class="chip-group"><h3>the vehicle had</h3><div class="chips">${flag('water', 'water inside')}${flag('accident', 'an accident')}</div>
    <${Starts} about="water" /><${Starts} about="accident" />
    ${(all.water || all.accident) && html`<${Told} about="harm" words="where, and when" hint="front left, in May" />`}</div>`;
}

function Course() {
  const [all, say] = known();
  return html`<div class="chip-group"><h3>the complaint is</h3><div class="chips">${COURSES.map(([value, words]) => {
    const on = (all.comes_and_goes ?? null) === value;
    return html`<button key=${words} class=${on ? 'chip on' : 'chip'} aria-pressed=${on} onClick=${() => say({ comes_and_goes: value })}>${words}</button>`;
  })}</div></div>`;
}

function Agreed() {
  const [all, say] = known();
  return html`<${Words} words="the customer agreed to, at most" value=${all.authorised === null || all.authorised === undefined ? '' : String(all.authorised)} hint="no limit" inputmode="decimal"
    keep=${(text) => say({ authorised: amount(text, all.authorised) })} />`;
}

/** Codes as they are typed, in plain words; noted as they were found. */
function Codes() {
  const [typed, type] = useState('');
  const [codes, show] = useState([]);
  const [ask] = useState(() => newest(get));
  const waiting = useRef(0);
  const write = (text) => {
    type(text);
    clearTimeout(waiting.current);
    waiting.current = setTimeout(() => ask('codes', { typed: text }).then((found) => found && show(text.trim() ? found : []), () => show([])), STILL);
  };
  const events = codes.map((one) => one.event).filter(Boolean);
  const note = () => {
    events.forEach(record);
    write('');
    show([]);
  };
  const read = state.answer.readings.filter((one) => one.test.startsWith('code '));
  return html`<div class="chip-group"><h3>trouble codes</h3>
    ${read.length > 0 && html`<ul>${read.map((one) => html`<li key=${one.event}>${one.what}: <b>${one.shown}</b></li>`)}</ul>`}
    <input class="wide-input" value=${typed} aria-label="trouble codes" placeholder="P0533, P0122 pending" autocomplete="off" autocapitalize="characters" spellcheck=${false} onInput=${(event) => write(event.target.value)} />
    ${codes.length > 0 && html`<ul class="decoded" aria-live="polite">${codes.map((one) => html`<li key=${one.typed} class=${one.is_code ? '' : 'wrong'}><b>${one.is_code ? `${one.code} ` : ''}</b>${one.says}
      ${one.is_code && !one.weighed && html`<small>This circuit has no check that sets it: it is written down, not weighed.</small>`}</li>`)}</ul>`}
    ${events.length > 0 && html`<button class="button main" onClick=${note}>note ${events.length === 1 ? 'this code' : `these ${events.length} codes`}</button>`}</div>`;
}

/** The battery's voltage is a reading like any other, as the vehicle stands now. */
function Battery() {
  const [typed, type] = useState('');
  const volts = Number(typed.trim().replace(',', '.'));
  const fine = typed.trim() !== '' && Number.isFinite(volts) && volts >= 0;
  const note = () => {
    record({ what: 'reading', set_up: state.setUp, test: 'voltmeter battery+ battery-', shown: `${typed.trim().replace(',', '.')} V` });
    type('');
  };
  const read = state.answer.readings.filter((one) => one.test === 'voltmeter battery+ battery-').at(-1);
  return html`<div class="chip-group"><label class="field"><span>battery voltage, as the vehicle stands now${read ? `; read so far: ${read.shown}` : ''}</span>
    <input value=${typed} placeholder="12.4" inputmode="decimal" autocomplete="off" onInput=${(event) => type(event.target.value)} /></label>
    ${fine && html`<button class="button main" onClick=${note}>note ${typed.trim()} V</button>`}</div>`;
}

export function Intake() {
  return html`<div class="intake">
    <${Told} about="complaint" words="the customer’s words" hint="what is wrong" lines="3" />
    <${Told} about="happens" words="when it happens" hint="cold mornings, over bumps, with the fan" />
    <${Course} />
    <${Codes} />
    <${Parts} title="replaced in vain" about="replaced" of=${(part) => part.kind === 'part'}><${Told} about="replaced" words="other parts replaced" hint="throttle body, twice" /><//>
    <${Parts} title="lately worked on" about="disturbed" of=${() => true}><${Told} about="work" words="recent work, in words" hint="windscreen, clutch" /><//>
    <${Parts} title="accessory fitted at" about="accessories" of=${() => true}><${Told} about="accessories" words="accessories, in words" hint="alarm, tow bar, camera" /><//>
    <${Harm} />
    <${Battery} />
    <${Told} about="mileage" words="mileage" hint="81 200 km" />
    <${Agreed} />
    <${Photos} />
  </div>`;
}
