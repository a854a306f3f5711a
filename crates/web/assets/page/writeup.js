// The job as documents: for the customer, and for who sees the vehicle next. The server makes them of the job as it is then.
import { html } from './html.js';
import { address } from './api.js';

const READERS = [['customer', 'For the customer'], ['technician', 'For the file']];
const FORMS = [['pdf', 'PDF'], ['html', 'page']];

/** The links alone. Times are told by this device's clock. */
export function Documents() {
  const east = -new Date().getTimezoneOffset();
  return html`<ul class="documents">${READERS.map(([reader, words]) => html`<li class="row" key=${reader}><span class="grow">${words}</span>
    ${FORMS.map(([form, name]) => html`<a class="button" key=${form} target="_blank" rel="noopener" aria-label=${`${words}: ${name}`}
      href=${address('write-up', { for: reader, as: form, east })}>${name}</a>`)}</li>`)}</ul>`;
}

export function WriteUp() {
  return html`<section class="card write-up" aria-label="write-up"><div class="card-head"><h2>Write-up</h2></div><${Documents} /></section>`;
}
