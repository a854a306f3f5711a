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

/** The value that a quantity has unless a clause says otherwise: some key positions bring their own. */
export const usualValue = (text, sensed) =>
  clauses(text).map((clause) => sensed.at_key[clause]).find((value) => value !== undefined) ?? sensed.usual;

export function withSensed(text, sensed, value) {
  const rest = clauses(text).filter((other) => !other.startsWith(`${sensed.id} `));
  return join(value === usualValue(text, sensed) ? rest : [...rest, `${sensed.id} ${value} ${sensed.unit}`.trim()]);
}

export function sensedValue(text, sensed) {
  const clause = clauses(text).find((other) => other.startsWith(`${sensed.id} `));
  const value = clause ? Number.parseFloat(clause.slice(sensed.id.length + 1)) : usualValue(text, sensed);
  return Number.isFinite(value) ? value : usualValue(text, sensed);
}

/** Whether two text forms say the same, in whatever order. */
export const sameSetUp = (one, other) => join(clauses(one).sort()) === join(clauses(other).sort());
