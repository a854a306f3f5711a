// A job from the shop's library: the search narrows the list down, and one tap begins the job. Counts taps and fields.
import assert from 'node:assert/strict';
import { open, sound } from './browser.mjs';

const bench = await open('.start .circuit');
const { browser, page, press, size, said } = bench;
await sound(bench, 'the choice');
if (process.env.SHOTS) await page.screenshot({ path: `${process.env.SHOTS}/start-${size}.png` });

const circuits = page.locator('.circuit');
assert.equal(await circuits.count(), 3);
await page.getByLabel('plate or name').fill('delivery van 31');
await page.waitForFunction(() => document.querySelectorAll('.circuit').length === 2);
await page.getByLabel('plate or name').fill('boat');
await page.getByText('None of its 3 fits what is typed.').waitFor();
await page.getByLabel('plate or name').fill('');
await page.waitForFunction(() => document.querySelectorAll('.circuit').length === 3);

// One of the library and a ready-made one become one circuit.
await press(page.getByLabel('with others: wiper of delivery van'));
await page.getByLabel('what is wrong').fill('crankshaft sensor');
await page.locator('.circuit[aria-pressed]').first().waitFor();
assert.equal(await page.getByLabel('with others: wiper of delivery van').getAttribute('aria-pressed'), 'true');
await press(page.locator('.circuit[aria-pressed]').first());
await sound(bench, 'one of the library with a ready-made one');
if (process.env.SHOTS) await page.screenshot({ path: `${process.env.SHOTS}/start-both-${size}.png` });
await press(page.getByRole('button', { name: 'go on with these 2 circuits' }));
await page.waitForSelector('.drawn svg [data-point]');
await sound(bench, 'both made one');
if (process.env.SHOTS) await page.screenshot({ path: `${process.env.SHOTS}/made-both-${size}.png` });
await page.goBack();
await page.getByLabel('what is wrong').fill('');
await page.waitForFunction(() => document.querySelectorAll('.circuit.kept').length === 3);

const began = Date.now();
await press(page.locator('.circuit.kept', { hasText: 'wiper' }));
// The page asks whether the job is there yet; until then the browser notes the answer "no job".
await page.waitForSelector('.wiring svg [data-point]');
const ready = Date.now() - began;
assert.ok(said.every((line) => line.includes('404') || line.includes('ERR_')), said.join('\n'));
assert.ok(ready < 10_000, `${ready} ms from the tap to the picture`);
console.log(`${size}: 1 tap, 0 fields, ${ready} ms from the tap to the wiring picture`);
await browser.close();
