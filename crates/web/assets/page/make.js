// The circuit that is being made: its few questions, each with what is taken where it stays empty, and the picture beside them.
import { html, useEffect, useLayoutEffect, useRef, useState } from './html.js';
import { newest, post } from './api.js';

const STILL = 600; // milliseconds after the last letter until the circuit is drawn anew

/** Cavity of a question, as the picture names it. */
function placeOf(question, answer) {
  if (question.kind !== 'cavity') return '';
  const typed = (answer ?? '').trim();
  return typed.includes('.') ? typed : `${question.plug}.${Number(typed) || question.stands}`;
}

function Problem({ id, why }) {
  return why && html`<p class="said" role="alert" id=${`why-${id}`}>${why}</p>`;
}

function Question({ question, answer, say, ask, at }) {
  const { id, kind, plug, problem } = question;
  const [letters, type] = useState(false); // of a cavity: it is of another plug, so the digits alone do not do
  if (kind === 'choice') {
    return html`<div class="ask" role="group" aria-label=${question.what}><span>${question.what}</span><div class="chips">${question.choices.map((choice) => {
      const on = (answer || question.choices[0]) === choice;
      return html`<button key=${choice} class=${on ? 'chip on' : 'chip'} aria-pressed=${on} onClick=${() => { say(choice); ask(); }}>${choice}</button>`;
    })}</div><${Problem} id=${id} why=${problem} /></div>`;
  }
  const input = html`<input id=${`ask-${id}`} value=${answer ?? ''} placeholder=${question.stands || 'not known'} autocomplete="off" spellcheck=${false}
    inputmode=${{ cavity: letters ? 'text' : 'numeric', length: 'decimal' }[kind] ?? 'text'} list=${kind === 'colour' ? 'colours' : undefined}
    aria-invalid=${Boolean(problem)} aria-describedby=${problem ? `why-${id}` : undefined}
    onInput=${(event) => say(event.target.value)} onChange=${ask} onFocus=${at} />`;
  const other = () => {
    type(true);
    if (!answer?.includes('.')) say(`${plug}.`);
    document.getElementById(`ask-${id}`).focus();
  };
  return html`<div class=${problem ? 'ask wrong' : 'ask'}><label for=${`ask-${id}`}>${question.what}</label>
    ${kind === 'cavity' ? html`<span class="cavity"><button class="link" aria-label=${`another plug than ${plug}`} onClick=${other}>${plug}</button>${input}</span>` : input}
    <${Problem} id=${id} why=${problem} /></div>`;
}

/** The wiring picture; a tap on a terminal goes to the question about it. */
function Drawn({ svg, at, tapped }) {
  const frame = useRef(null);
  // The server's own SVG is the only markup that is ever inserted.
  useLayoutEffect(() => {
    frame.current.innerHTML = svg;
    for (const spot of frame.current.querySelectorAll('[tabindex]')) spot.setAttribute('tabindex', '-1');
  }, [svg]);
  useEffect(() => {
    for (const other of frame.current.querySelectorAll('.asked')) other.classList.remove('asked');
    const spot = at && frame.current.querySelector(`[data-point="${CSS.escape(at)}"]`);
    if (!spot) return;
    spot.classList.add('asked');
    const [box, seen] = [spot.getBoundingClientRect(), frame.current.getBoundingClientRect()];
    frame.current.scrollBy({ left: box.left - seen.left - seen.width / 2, top: box.top - seen.top - seen.height / 2 });
  }, [svg, at]);
  return html`<div class="drawn" ref=${frame} role="region" aria-label="wiring picture" tabindex="0" onClick=${(event) => tapped(event.target.closest('[data-point]')?.dataset.point)}></div>`;
}

function Keep({ made, place, set }) {
  const field = (name, words) => html`<label class="ask"><span>${words}</span><input value=${place[name] ?? made[name]} autocomplete="off" spellcheck=${false}
    onInput=${(event) => set({ ...place, [name]: event.target.value })} /></label>`;
  return html`<div class="asks">
    <button class=${place ? 'chip on' : 'chip'} aria-pressed=${Boolean(place)} onClick=${() => set(place ? null : {})}>keep it in the shop’s library</button>
    ${place && html`<p class="soft">The next vehicle of this kind then begins with one tap.</p>${field('group', 'kind of vehicle')}${field('name', 'name of the circuit')}`}
  </div>`;
}

function Back() {
  return html`<button class="link" onClick=${() => history.back()}>‹ back</button>`;
}

/** The next step, and why the last tap did nothing: both where the thumb is. */
export function Onward({ told, children }) {
  return html`<div class="onward"><div>${told && html`<p class="told" role="alert">${told}</p>`}${children}</div></div>`;
}

export function Make({ chosen: circuits, typed, answers, keep, told, busy, set, begin, failed }) {
  const [made, show] = useState(null);
  const [asked, ask] = useState(0); // how often the circuit was asked for
  const [at, setAt] = useState('');
  const still = useRef(0);
  const question = useRef(newest(post));
  const making = { circuits, answers: Object.entries(answers), codes: typed.codes, wrong: typed.wrong, vehicle: typed.vehicle.trim() || typed.plate };
  useEffect(() => {
    clearTimeout(still.current);
    question.current('circuit', making).then((answer) => answer && show(answer), failed);
  }, [asked]);
  if (!made) return html`<main class="start"><p class="opening">${told || 'Drawing the circuit …'}</p>${told && html`<${Back} />`}</main>`;
  const again = () => ask((count) => count + 1);
  const say = (id, text) => {
    set({ answers: { ...answers, [id]: text }, told: '' });
    clearTimeout(still.current);
    still.current = setTimeout(again, STILL);
  };
  const groups = [...Map.groupBy(made.questions, ({ of }) => of ?? '')];
  const tapped = (point) => {
    const about = made.questions.find((one) => placeOf(one, answers[one.id]) === point);
    if (about) document.getElementById(`ask-${about.id}`).focus();
  };
  const marked = made.questions.find(({ id, kind }) => (at ? id === at : kind === 'cavity'));
  return html`<main class="start making">
    <header><${Back} /><h1>${made.title}</h1></header>
    <${Drawn} svg=${made.svg} at=${marked ? placeOf(marked, answers[marked.id]) : ''} tapped=${tapped} />
    <div class="asks">
      <p class="soft">Type what you know of this vehicle. What stays empty is taken as it stands in the field.</p>
      ${groups.map(([of, questions]) => html`<section class="asks" key=${of}>${of && html`<h2>${of}</h2>`}
        ${questions.map((one) => html`<${Question} key=${one.id} question=${one} answer=${answers[one.id]} say=${(text) => say(one.id, text)} ask=${again} at=${() => setAt(one.id)} />`)}</section>`)}
      <datalist id="colours">${made.colours.map((colour) => html`<option key=${colour} value=${colour} />`)}</datalist>
      ${made.problems.map((why) => html`<p class="said" role="alert" key=${why}>${why}</p>`)}
      ${made.told.length > 0 && html`<section class="guesses"><h2>Taken as a guess</h2>${made.told.map((line) => html`<p key=${line}>${line}.</p>`)}</section>`}
      <${Keep} made=${made} place=${keep} set=${(place) => set({ keep: place, told: '' })} />
    </div>
    <${Onward} told=${told}><button class="button main" disabled=${busy} onClick=${() => begin([making, keep && { group: made.group, name: made.name, ...keep }])}>${busy ? 'beginning …' : 'begin the job'}</button><//>
  </main>`;
}
