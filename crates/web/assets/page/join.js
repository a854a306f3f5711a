// Coming in: the secret stands behind the # of the address, which browsers do not send; it goes to the server once.
import { applyLook } from './look.js';

const told = document.getElementById('told');
const help = document.getElementById('help');
const least = Math.min(screen.width, screen.height);
const name = least < 500 ? 'phone' : least < 900 && navigator.maxTouchPoints > 0 ? 'tablet' : 'computer';

async function comeIn(secret) {
  told.textContent = 'Coming in …';
  let response;
  try {
    response = await fetch('/join', { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ secret, name }) });
  } catch {
    told.textContent = 'The bench cannot be reached. Stay in the shop\'s network and scan the code anew.';
    return;
  }
  if (response.ok) {
    location.replace('/');
    return;
  }
  const problem = await response.json().catch(() => ({ message: `refused (${response.status})`, help: '' }));
  told.textContent = `${problem.message}.`;
  help.textContent = problem.help;
}

applyLook();
const secret = location.hash.slice(1);
// What was used is not left in the address or its history.
history.replaceState(null, '', location.pathname);
if (secret) comeIn(secret);
