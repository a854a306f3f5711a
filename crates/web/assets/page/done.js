// What was done beside reading: looked closely, pushed home, put in anew, cleared; and what is known of the complaint.
import { html, useState } from './html.js';
import { record } from './deeds.js';
import { set, state } from './store.js';

const KINDS = [
  { id: 'looked', words: 'looked closely at …', of: () => true },
  { id: 'reseated', words: 'pushed a plug home', of: (part) => part.kind === 'connector' },
  { id: 'swapped', words: 'put in a known good part', of: (part) => part.kind === 'part' },
  { id: 'cleared', words: 'cleared codes', of: null },
];
const COURSES = [[true, 'comes and goes'], [false, 'there all the time'], [null, 'not known']];

function Form({ close }) {
  const [kind, choose] = useState(null);
  const [place, at] = useState('');
  const parts = kind?.of ? state.job.parts.filter(kind.of) : [];
  const id = parts.some((part) => part.id === place) ? place : '';
  const note = (did) => { record({ what: 'did', did }); close(); };
  return html`<div class="did-form">
    <div class="chips">${KINDS.map((one) => html`<button key=${one.id} class=${one === kind ? 'chip on' : 'chip'} aria-pressed=${one === kind}
      onClick=${() => choose(one)}>${one.words}</button>`)}</div>
    ${kind?.of && html`<label class="field wide"><span>where</span><select value=${id} onChange=${(event) => at(event.target.value)}>
      <option value="">choose</option>${parts.map((part) => html`<option key=${part.id} value=${part.id} selected=${part.id === id}>${part.words}</option>`)}
    </select></label>`}
    ${kind?.id === 'looked' && html`<div class="row"><button class="button main grow" disabled=${!id} onClick=${() => note(`looked ${id} damaged`)}>damage seen</button>
      <button class="button grow" disabled=${!id} onClick=${() => note(`looked ${id} sound`)}>nothing seen</button></div>`}
    ${kind && kind.id !== 'looked' && html`<button class="button main" disabled=${kind.of !== null && !id}
      onClick=${() => note(kind.of ? `${kind.id} ${id}` : 'cleared codes')}>note it</button>`}
    <${Known} />
  </div>`;
}

/** An amount as typed; nothing for an empty field, what it was for one that is no amount. */
function amount(typed, before) {
  const text = typed.trim().replace(',', '.');
  const value = Number(text);
  return text === '' ? null : Number.isFinite(value) && value >= 0 ? value : (before ?? null);
}

let told = null; // what was said since the answer that shows: two quick taps must not undo each other

/** The complaint and the vehicle's past. An intake says all of it anew. */
function Known() {
  const { version, intake } = state.answer;
  const known = told?.after === version ? told.intake : intake;
  const say = (patch) => {
    told = { after: version, intake: { ...known, ...patch } };
    record({ what: 'intake', ...told.intake });
  };
  const flag = (name, words) => html`<button class=${known[name] ? 'chip on' : 'chip'} aria-pressed=${known[name]} onClick=${() => say({ [name]: !known[name] })}>${words}</button>`;
  return html`<div class="chip-group"><h3>the complaint is</h3><div class="chips">${COURSES.map(([value, words]) => {
    const on = (known.comes_and_goes ?? null) === value;
    return html`<button key=${words} class=${on ? 'chip on' : 'chip'} aria-pressed=${on} onClick=${() => say({ comes_and_goes: value })}>${words}</button>`;
  })}</div></div>
  <${Agreed} authorised=${known.authorised} keep=${(authorised) => say({ authorised })} />
  <div class="chip-group"><h3>the vehicle had</h3><div class="chips">${flag('water', 'water inside')}${flag('accident', 'an accident')}</div></div>
  <${Parts} title="replaced in vain" ids=${known.replaced} keep=${(replaced) => say({ replaced })} of=${(part) => part.kind === 'part'} />
  <${Parts} title="lately worked on" ids=${known.disturbed} keep=${(disturbed) => say({ disturbed })} of=${() => true} />`;
}

/** What is being typed stays as it is until it is sent, however often the page is drawn meanwhile. */
function Agreed({ authorised, keep }) {
  const [typed, type] = useState(null);
  const send = (event) => {
    keep(amount(event.target.value, authorised));
    type(null);
  };
  return html`<label class="field"><span>the customer agreed to, at most</span><input inputmode="decimal" value=${typed ?? authorised ?? ''} placeholder="no limit"
    onInput=${(event) => type(event.target.value)} onChange=${send} /></label>`;
}

function Parts({ title, ids, keep, of }) {
  const words = (id) => state.job.parts.find((part) => part.id === id)?.words ?? id;
  const others = state.job.parts.filter((part) => of(part) && !ids.includes(part.id));
  return html`<div class="chip-group"><h3>${title}</h3><div class="chips">
    ${ids.map((id) => html`<button class="chip on" key=${id} aria-pressed="true" onClick=${() => keep(ids.filter((other) => other !== id))}>${words(id)} ✕</button>`)}
    <select aria-label=${title} value="" onChange=${(event) => event.target.value && keep([...ids, event.target.value])}>
      <option value="">add a part</option>${others.map((part) => html`<option key=${part.id} value=${part.id}>${part.words}</option>`)}</select>
  </div></div>`;
}

export function Done() {
  const open = state.didOpen;
  const turn = () => set({ didOpen: !open });
  return html`<div class="did">
    <button class=${open ? 'link' : 'button'} aria-expanded=${open} onClick=${turn}>${open ? 'close' : 'I did or saw something'}</button>
    ${open && html`<${Form} close=${turn} />`}
  </div>`;
}
