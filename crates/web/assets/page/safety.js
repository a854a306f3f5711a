// Can it hurt? The verdict, its figures, what to measure first, and what to mind.
import { html } from './html.js';
import { plan } from './deeds.js';

export function Safety({ safety }) {
  const { verdict, headline, lines, first, cautions } = safety;
  if (verdict === 'safe' && !headline && !lines.length && !cautions.length) return null;
  return html`<div class=${`safety ${verdict}`}>
    ${headline && html`<p class="headline">${headline}</p>`}
    ${lines.map((line) => html`<p key=${line}>${line}</p>`)}
    ${first.map((one) => html`<p key=${one.words}><button class="link" onClick=${() => plan(one.set_up, [one.test])}>first: ${one.words}</button></p>`)}
    ${cautions.map((line) => html`<p class="caution" key=${line}>${line}</p>`)}
  </div>`;
}
