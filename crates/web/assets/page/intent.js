// The test that the person is about to make: instrument, leads, set-up, as one text form.
import { state } from './store.js';

export const BLACK_USUAL = 'battery-';

export function instrument() {
  return state.job.instruments.find((one) => one.id === state.instrument) ?? state.job.instruments[0];
}

/** The test's text form, or '' while something is missing. */
export function testText() {
  const tool = instrument();
  if (!state.red) return '';
  if (tool.leads.length < 2) return `${tool.id} ${state.red}`;
  return state.black && state.black !== state.red ? `${tool.id} ${state.red} ${state.black}` : '';
}

/** What the store must hold to be about to make `test` of a proposal or reading. */
export function intending(test) {
  const tool = state.job.instruments.find((one) => one.id === test.instrument);
  return {
    instrument: test.instrument,
    red: test.places[0] ?? '',
    black: test.places[1] ?? BLACK_USUAL,
    value: '',
    unit: units(tool, test.places[0])[0] ?? '',
    lead: 'red',
    message: '',
  };
}

/** Another instrument at the same place, where that makes sense. */
export function withInstrument(id) {
  const tool = state.job.instruments.find((one) => one.id === id);
  const before = instrument();
  const samePlaces = before.places.length === 0 && tool.places.length === 0;
  const red = samePlaces ? state.red : (tool.places[0]?.path ?? '');
  return { instrument: id, red, value: '', unit: units(tool, red)[0] ?? '', judge: null, lead: 'red' };
}

/** Units on the display of an instrument; a scan value has its own. */
export function units(tool, place) {
  const own = tool?.places.find((one) => one.path === place)?.unit;
  return own !== undefined ? [own] : (tool?.units ?? []);
}

export function pointWords(path) {
  return state.job.points.find((one) => one.path === path)?.words ?? path;
}
