// The job itself: whose vehicle, where it stands, what was said at intake.
import { html } from './html.js';
import { Intake } from './intake.js';
import { Standing } from './standing.js';
import { state } from './store.js';

export function About() {
  const { job } = state;
  return html`<section class="card about" aria-label="this job">
    <div class="card-head"><h2>This job</h2><span class="phone-only"><${Standing} /></span></div>
    <p><b>${job.title}</b></p>
    <${Intake} />
  </section>`;
}
