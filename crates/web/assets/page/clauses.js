// A set-up is kept in its text form, clauses joined by "; "; the vocabulary gives each clause's text.

export const clauses = (text) => text.split(';').map((clause) => clause.trim()).filter(Boolean);
const join = (list) => list.join('; ');

export const says = (text, clause) => clauses(text).includes(clause);

export function toggle(text, clause) {
  const list = clauses(text);
  return join(list.includes(clause) ? list.filter((other) => other !== clause) : [...list, clause]);
}

export function withKey(text, clause) {
  return join([clause, ...clauses(text).filter((other) => !other.startsWith('key '))]);
}

export function withSensed(text, sensed, value) {
  const rest = clauses(text).filter((other) => !other.startsWith(`${sensed.id} `));
  return join(value === sensed.usual ? rest : [...rest, `${sensed.id} ${value} ${sensed.unit}`.trim()]);
}

export function sensedValue(text, sensed) {
  const clause = clauses(text).find((other) => other.startsWith(`${sensed.id} `));
  const value = clause ? Number.parseFloat(clause.slice(sensed.id.length + 1)) : sensed.usual;
  return Number.isFinite(value) ? value : sensed.usual;
}

/** Whether two text forms say the same, in whatever order. */
export const sameSetUp = (one, other) => join(clauses(one).sort()) === join(clauses(other).sort());
