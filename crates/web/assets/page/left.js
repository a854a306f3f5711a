// What is left: the suspects, why, and what each would make every point read.
import { html, useState } from './html.js';
import { mark, repaired } from './deeds.js';
import { state } from './store.js';

const SIGNS = { '-2': '− −', '-1': '−', 0: '·', 1: '+', 2: '+ +' };
const side = (leaning) => (leaning < 0 ? 'against' : leaning > 0 ? 'for' : 'neither');

function Why({ why }) {
  return html`<ul class="why">${why.map((one) => html`<li class=${side(one.leaning)} key=${one.event}>
    <span class="sign" aria-hidden="true">${SIGNS[one.leaning]}</span><span>${one.words}</span></li>`)}</ul>`;
}

/** The assumption that the marked suspect leans on, and the others on tap. */
function Leans() {
  const { leans } = state;
  if (!leans) return html`<p class="soft">working out what it leans on …</p>`;
  return html`<div><p>${leans.leans}</p><details><summary>everything that is assumed</summary><ul class="assumed">
    ${leans.all.map((one) => html`<li key=${one.what}>${one.what} <small>${one.otherwise}: ${one.percent}</small></li>`)}</ul></details></div>`;
}

function Expects() {
  const { expects } = state;
  const [all, showAll] = useState(false);
  if (!expects) return html`<p class="soft">working out what would be read …</p>`;
  const rows = all ? expects.rows : expects.rows.filter((row) => row.differs);
  return html`<div>${expects.remarks.map((remark) => html`<p class="soft" key=${remark}>Mind: ${remark}.</p>`)}<table class="expects"><caption class="hidden-words">what each point would read</caption>
    <thead><tr><th>in this set-up</th><th>would read</th><th>in order</th></tr></thead>
    <tbody>${rows.map((row) => html`<tr class=${row.differs ? 'differs' : ''} key=${row.words}><td>${row.words}</td><td>${row.shows}</td><td>${row.in_order}</td></tr>`)}</tbody></table>
    ${!rows.length && html`<p class="soft">In this set-up every point would read as if all were in order.</p>`}
    ${rows.length < expects.rows.length && html`<button class="link" onClick=${() => showAll(true)}>every point in reach</button>`}</div>`;
}

const NAMED = 0.01; // chance from which a look-alike is named on the closed suspect

/** What the suspect's chance is made of, where look-alikes share it. */
function Alike({ suspect }) {
  const likes = suspect.look_alikes.filter((one) => one.chance >= NAMED);
  if (!likes.length) return null;
  return html`<small class="alike">here ${suspect.alone}${likes.map((one) => `, or ${one.brief} ${one.percent}`)}; no test on offer tells</small>`;
}

function Suspect({ suspect }) {
  const marked = suspect.fault !== '' && state.suspect === suspect.fault;
  const name = suspect.fault || 'outside';
  const [openOutside, setOpenOutside] = useState(false);
  const open = suspect.fault ? marked : openOutside;
  const tap = () => (suspect.fault ? mark(marked ? '' : suspect.fault) : setOpenOutside(!openOutside));
  return html`<li class=${marked ? 'suspect marked' : 'suspect'} key=${name}>
    <button class="suspect-head" aria-expanded=${open} onClick=${tap}>
      <span class="bar" style=${{ width: `${(100 * suspect.chance).toFixed(1)}%` }}></span>
      <span class="what">${suspect.what}</span><span class="percent">${suspect.percent}</span>
      <small>${suspect.place}${suspect.comes_and_goes ? ' · comes and goes' : ''}</small><small class="cost">${suspect.cost}</small>
      ${suspect.also && html`<small class="alike">and at the same time: ${suspect.also}</small>`}
      <${Alike} suspect=${suspect} />
    </button>
    ${open && html`<div class="suspect-more">
      ${suspect.exactly && html`<p class="soft">${suspect.exactly}</p>`}
      ${suspect.repair && html`<p>${suspect.repair}</p>`}
      ${suspect.look_alikes.length > 0 && html`<div><h3>no test on offer tells it from</h3><ul>
        ${suspect.look_alikes.map((one) => html`<li key=${one.fault}>${one.what}, ${one.place} <small>${one.percent}</small></li>`)}</ul></div>`}
      ${suspect.why.length > 0 && html`<div><h3>why</h3><${Why} why=${suspect.why} /></div>`}
      ${suspect.said.map((line) => html`<p class="soft" key=${line}>${line}</p>`)}
      ${suspect.seen && html`<p class="soft">${suspect.seen}</p>`}
      ${suspect.fault && html`<${Leans} /><button class="button" onClick=${() => repaired(suspect)}>it is repaired: prove it</button><${Expects} />`}
    </div>`}
  </li>`;
}

export function Left() {
  const { answer } = state;
  const [others, showOthers] = useState(false);
  return html`<section class="card" aria-label="what is left">
    <div class="card-head"><h2>What is left</h2>${answer.latest > answer.version && html`<small role="status">older than your last reading</small>`}</div>
    <ul class="suspects">
      ${answer.suspects.map((one) => html`<${Suspect} key=${`${one.fault || 'outside'}/${one.also}`} suspect=${one} />`)}
      ${answer.others && html`<li class="suspect"><button class="suspect-head" aria-expanded=${others} onClick=${() => showOthers(!others)}>
        <span class="bar" style=${{ width: `${(100 * answer.others.chance).toFixed(1)}%` }}></span>
        <span class="what">${answer.others.words}</span><span class="percent">${answer.others.percent}</span><small>${answer.others.each}</small></button>
        ${others && html`<ul class="suspect-more">${answer.others.some.map((one) => html`<li key=${one.fault}>${one.what}, ${one.place} <small>${one.percent}</small></li>`)}</ul>`}</li>`}
    </ul>
    ${answer.notes.map((note) => html`<p class="said-once" key=${note}>${note}</p>`)}
  </section>`;
}
