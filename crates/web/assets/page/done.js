// What was done beside reading: looked closely, pushed home, put in anew, cleared.
import { html, useState } from './html.js';
import { record } from './deeds.js';
import { set, state } from './store.js';

const KINDS = [
  { id: 'looked', words: 'looked closely at …', of: () => true },
  { id: 'reseated', words: 'pushed a plug home', of: (part) => part.kind === 'connector' },
  { id: 'swapped', words: 'put in a known good part', of: (part) => part.kind === 'part' },
  { id: 'cleared', words: 'cleared codes', of: null },
];

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
  </div>`;
}

export function Done() {
  const open = state.didOpen;
  const turn = () => set({ didOpen: !open });
  return html`<div class="did">
    <button class=${open ? 'link' : 'button'} aria-expanded=${open} onClick=${turn}>${open ? 'close' : 'I did or saw something'}</button>
    ${open && html`<${Form} close=${turn} />`}
  </div>`;
}
