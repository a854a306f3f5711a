// Talking to the server. Questions are plain requests; what is new comes by itself as server-sent events.

/** Where this page's job stands among those of a shop; empty where the whole address is one job's. */
export const JOB = location.pathname.match(/^\/job\/[^/]+/)?.[0] ?? '';
const BASE = `${JOB}/api/v1/`;

/** A refusal with the server's words. `status` 0: it could not be reached. */
export class Refused extends Error {
  constructor(status, message, help) {
    super(message);
    this.status = status;
    this.help = help;
  }
}

async function ask(path, options) {
  let response;
  try {
    response = await fetch(BASE + path, options);
  } catch {
    throw new Refused(0, 'the program cannot be reached', 'Readings are kept here and sent when it is back.');
  }
  if (response.ok) return response.json();
  let problem = {};
  try {
    problem = await response.json();
  } catch {
    // Not from our server: the status must do.
  }
  throw new Refused(response.status, problem.message ?? `refused (${response.status})`, problem.help ?? '');
}

function asked(path, query) {
  const text = new URLSearchParams(Object.entries(query).filter(([, value]) => value !== '')).toString();
  return text ? `${path}?${text}` : path;
}

export function get(path, query = {}) {
  return ask(asked(path, query));
}

/** Where something is that the browser opens by itself. */
export function address(path, query = {}) {
  return BASE + asked(path, query);
}

export function postFile(path, file) {
  return ask(path, { method: 'POST', headers: { 'content-type': file.type }, body: file });
}

export function post(path, body) {
  return ask(path, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
}

/** Calls `onAnswer` with every new answer, and `onLink` with whether the server is there. */
export function listen(onAnswer, onLink) {
  const source = new EventSource(`${BASE}updates`);
  source.addEventListener('answer', (event) => {
    onAnswer(JSON.parse(event.data));
    onLink(true);
  });
  source.addEventListener('open', () => onLink(true));
  source.addEventListener('error', () => {
    onLink(false);
    // A browser gives up for good when the server answers with an error; ask again ourselves.
    if (source.readyState === EventSource.CLOSED) setTimeout(() => listen(onAnswer, onLink), 2000);
  });
}

/** Only the newest question's answer counts: `ask = newest(get)`; an overtaken one gives `undefined`. */
export function newest(question) {
  let last = 0;
  return async (...args) => {
    const mine = ++last;
    try {
      const answer = await question(...args);
      return mine === last ? answer : undefined;
    } catch (error) {
      if (mine !== last) return undefined;
      throw error;
    }
  };
}
