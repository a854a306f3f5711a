// From two trouble codes and four pins to a circuit and a job, counting taps and fields; and what goes wrong on the way.
import assert from 'node:assert/strict';
import { open, settled, sound } from './browser.mjs';

const bench = await open('.start .circuits');
const { browser, page, press, size, said } = bench;
const shot = async (name) => process.env.SHOTS && page.screenshot({ path: `${process.env.SHOTS}/${name}-${size}.png` });
const count = { taps: 0, fields: 0 };
const tap = (target) => { count.taps += 1; return press(target); };
const fill = (target, text) => { count.fields += 1; return target.fill(text); };
const seconds = {};
/** Seconds that the page took from now until `seen`. */
async function timed(what, seen) {
  const began = Date.now();
  await seen();
  seconds[what] = ((Date.now() - began) / 1000).toFixed(1);
}
const circuit = (words) => page.locator('.circuit', { hasText: words });
const pin = (words) => page.getByLabel(words, { exact: true });
await sound(bench, 'nothing typed');
await shot('new-job');

// What is no code and no vehicle's number is told as it is typed, and clears once it is put right.
await press(page.getByRole('button', { name: '+ codes' }));
await page.getByLabel('trouble codes').fill('P01Z7');
await page.locator('.decoded .wrong', { hasText: 'no digit 0 to 9' }).waitFor();
await press(page.getByRole('button', { name: '+ VIN' }));
await page.getByLabel('its identification number (VIN)').fill('1M8GDM9AXKP04278');
await page.locator('.decoded .wrong', { hasText: '16 characters are here' }).waitFor();
await page.getByLabel('its identification number (VIN)').fill('1M8GDM9AXKP042788');
await page.locator('.decoded', { hasText: 'Check digit X: right' }).waitFor();
await page.getByLabel('what is wrong').fill('broken wing mirror');
await page.getByText('None is known by that.').waitFor();
await page.getByLabel('what is wrong').fill('');

await fill(page.getByLabel('trouble codes'), 'P0107 p0122');
await timed('codes told and circuits proposed', () => circuit('for P0107').first().waitFor());
assert.match(await page.locator('.decoded').last().innerText(), /P0107.*P0122 throttle or pedal position A/s);
const first = await page.locator('.decoded').last().locator('li').first().innerText();
assert.match(first, /^P0107 and P0122 may have one cause: the 5 V/, 'what they share comes before either is told alone');
await sound(bench, 'codes typed');
await shot('codes');

// A code is present until its chip is tapped; what is typed follows, and when it was seen stands in brackets.
await press(page.getByRole('button', { name: 'P0122 is present now, tap for pending' }));
assert.equal(await page.getByLabel('trouble codes').inputValue(), 'P0107, P0122 pending');
await press(page.getByRole('button', { name: 'P0122 is pending, tap for stored only' }));
await page.getByLabel('P0122 seen when').fill('81 200 km');
await page.getByLabel('P0122 seen when').press('Enter');
assert.equal(await page.getByLabel('trouble codes').inputValue(), 'P0107, P0122 history (81 200 km)');
await sound(bench, 'a code stored only');
await shot('code-states');
await tap(circuit('Three-wire pressure sensor'));
await tap(circuit('Position sensor with a track'));
await sound(bench, 'circuits chosen');
await tap(page.getByRole('button', { name: 'go on with these 2 circuits' }));
await timed('circuit drawn', () => page.waitForSelector('.drawn svg [data-point]'));
await sound(bench, 'questions');
await shot('questions');

// A wrong answer is told at its question and leaves the others alone.
const signal = pin('Module cavity of the signal');
await signal.fill('here');
await page.waitForSelector('.ask.wrong');
assert.match(await page.locator('.ask.wrong').innerText(), /^Module cavity of the signal\s.*The number of a cavity of C1 is expected/s);
assert.equal(await signal.inputValue(), 'here');
await sound(bench, 'a wrong answer');
await shot('wrong-answer');
// What is typed while the circuit is drawn anew stays; the answer to the question before is in the picture by then.
await signal.fill('');
await page.waitForFunction(() => !document.querySelector('.ask.wrong'));

const pins = { 'Module cavity of the 5 V reference': 11, 'Module cavity of the sensor ground': 12, 'Module cavity of the manifold pressure signal': 13, 'Module cavity of the signal': 14 };
for (const [question, number] of Object.entries(pins)) await fill(pin(question), String(number));
await timed('last pin drawn', () => page.waitForSelector('.drawn svg [data-point="C1.14"]'));
for (const [question, number] of Object.entries(pins)) {
  assert.equal(await pin(question).inputValue(), String(number));
  assert.equal(await page.locator(`.drawn svg [data-point="C1.${number}"]`).count(), 1);
}
await page.waitForSelector('.drawn .asked[data-point="C1.14"]');
await sound(bench, 'answered');

// The way back keeps what was typed.
await press(page.getByRole('button', { name: 'back' }));
assert.equal(await page.getByLabel('trouble codes').inputValue(), 'P0107, P0122 history (81 200 km)');
await press(page.getByRole('button', { name: 'go on with these 2 circuits' }));
await page.waitForSelector('.drawn svg [data-point="C1.14"]');
assert.equal(await signal.inputValue(), '14');

assert.deepEqual(said, [], 'nothing went wrong so far');
await tap(page.getByRole('button', { name: 'begin the job' }));
await timed('job open', () => page.waitForSelector('.wiring svg [data-point="C1.14"]'));
// The page asks whether the job is there yet; until then the browser notes the answer "no job".
assert.ok(said.every((line) => line.includes('404') || line.includes('ERR_')), said.join('\n'));
said.length = 0;
assert.deepEqual(count, { taps: 4, fields: 5 });

await page.locator('.before', { hasText: 'Never put 12 V on the reference' }).waitFor();
await sound(bench, 'before you start');
await shot('job');
await press(page.locator('.before').getByRole('button', { name: 'understood' }));
assert.equal(await page.locator('.before li').count(), 0);
await press(page.locator('.before').getByRole('button', { name: 'show' }));
assert.ok(await page.locator('.before li').count() > 2, 'they stay within reach');
await settled(page);
const answer = await page.evaluate(async () => (await fetch('/api/v1/answer')).json());
assert.deepEqual(answer.readings.map((one) => one.test), ['code P0107', 'code P0122']);
assert.match(answer.codes_share, /^P0107 and P0122 hang on the same: reference of engine, C1 cavity 11/);
await page.locator('.card.next', { hasText: 'P0107 and P0122 hang on the same' }).waitFor();
await shot('job-measure');
if (bench.phone) await press(page.locator('#tab-readings'));
await page.getByText('VIN 1M8GDM9AXKP042788').waitFor();
await page.getByText('key on, engine off; seen 81 200 km').waitFor();
await sound(bench, 'readings of a new job');
await shot('job-readings');
console.log(`${size}: ${count.taps} taps, ${count.fields} fields; seconds: ${Object.entries(seconds).map(([what, time]) => `${what} ${time}`).join(', ')}`);
await browser.close();
