// Photos of the vehicle: taken on the phone, made smaller there, kept beside the job.
import { html, useState } from './html.js';
import { address, postFile } from './api.js';
import { record, takeBack } from './deeds.js';
import { state } from './store.js';

const EDGE = 2048; // pixels of the longer edge that is kept: print on a crimp can still be read
const QUALITY = 0.85;

/** The picture no larger than it need be, without what the camera wrote into it; as it came if that cannot be done. */
async function smaller(file) {
  try {
    const picture = await createImageBitmap(file);
    const scale = Math.min(1, EDGE / Math.max(picture.width, picture.height));
    const canvas = document.createElement('canvas');
    [canvas.width, canvas.height] = [picture.width, picture.height].map((edge) => Math.round(edge * scale));
    canvas.getContext('2d').drawImage(picture, 0, 0, canvas.width, canvas.height);
    return await new Promise((done) => canvas.toBlob((blob) => done(blob ?? file), 'image/jpeg', QUALITY));
  } catch {
    return file;
  }
}

const clock = (ms) => new Date(ms).toLocaleTimeString([], { hour: '2-digit', minute: '2-digit', hour12: false });

export function Photos() {
  const { photos } = state.answer.intake;
  const [busy, work] = useState(false);
  const [said, say] = useState('');
  const keep = async (event) => {
    const files = [...event.target.files];
    event.target.value = '';
    work(true);
    say('');
    try {
      for (const file of files) {
        const kept = await postFile('photos', await smaller(file));
        record({ what: 'photo', file: kept.file });
      }
    } catch (error) {
      say(error.status === 0 ? 'The program cannot be reached: take the photo again once it is back.' : `${error.message}. ${error.help}`);
    } finally {
      work(false);
    }
  };
  return html`<div class="chip-group"><h3>photos</h3>
    ${photos.length > 0 && html`<ul class="photos">${photos.map((one) => html`<li key=${one.event}>
      <a href=${address(`photos/${one.file}`)} target="_blank"><img src=${address(`photos/${one.file}`)} alt=${one.words || `photo of ${clock(one.at_ms)}`} loading="lazy" /></a>
      <button class="take-back" aria-label=${`take back the photo of ${clock(one.at_ms)}`} onClick=${() => takeBack(one.event)}>✕</button></li>`)}</ul>`}
    ${said && html`<p class="said" role="alert">${said}</p>`}
    <label class="button take-photo">${busy ? 'keeping …' : 'take or choose a photo'}<input type="file" accept="image/jpeg,image/png,image/webp" multiple disabled=${busy} onChange=${keep} /></label></div>`;
}
