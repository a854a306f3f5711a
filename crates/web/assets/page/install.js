// How a phone comes to trust the bench: which steps are left for this one.
import { applyLook } from './look.js';

const at = (id) => document.getElementById(id);

applyLook();
const state = await fetch('/install/state').then((response) => response.json());
at('done').hidden = !state.is_secure;
at('steps').hidden = state.is_secure || !state.secure || !state.own_authority;
at('none').hidden = Boolean(state.secure);
if (state.secure) {
  // The same machine by the name or address under which it was found.
  const page = new URL(state.secure);
  if (state.own_authority) page.hostname = location.hostname;
  at('secure').href = page.href;
}
