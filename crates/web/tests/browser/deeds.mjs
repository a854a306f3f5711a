// What was done and seen beside reading, from tap to row, and back; a part moved while a reading is taken; a twin.
import assert from 'node:assert/strict';
import { open, settled, sound } from './browser.mjs';

const bench = await open();
const { page, phone, press } = bench;
const tab = async (name) => phone && press(page.locator(`#tab-${name}`));
const shot = async (name) => process.env.SHOTS && page.screenshot({ path: `${process.env.SHOTS}/${name}-${bench.size}.png` });
await settled(page);

await tab('readings');
await press(page.getByRole('button', { name: 'I did or saw something' }));
await sound(bench, 'the form');
await press(page.getByRole('button', { name: /^looked closely/ }));
assert.ok(await page.getByRole('button', { name: 'damage seen', exact: true }).isDisabled(), 'a look has a place');
await page.locator('.did-form .field select').selectOption('floor');
await sound(bench, 'a look');
await shot('look');
await press(page.getByRole('button', { name: 'damage seen', exact: true }));
await page.waitForSelector('.reading.act');
assert.match(await page.locator('.reading.act').innerText(), /Looked closely at floor joint: damage seen/);
await settled(page);
await sound(bench, 'what was done');
await shot('done');

// What is known of the complaint is kept whole.
await tab('job');
await press(page.getByRole('button', { name: 'comes and goes' }));
const comes = page.locator('.intake').getByRole('button', { name: 'comes and goes' });
await page.waitForFunction(() => [...document.querySelectorAll('.intake .chip')].some((one) => one.textContent === 'comes and goes' && one.ariaPressed === 'true'));
await press(page.getByRole('button', { name: 'water inside' }));
await page.waitForFunction(async () => {
  const { intake } = await (await fetch('/api/v1/answer')).json();
  return intake.water && intake.comes_and_goes === true;
});
assert.equal(await comes.getAttribute('aria-pressed'), 'true');

// What the customer agreed to is held against what the job is expected to come to.
const agreed = page.getByLabel('the customer agreed to, at most');
await agreed.fill('1');
// Drawn anew for each of the looks, with the cursor still in the field.
await page.evaluate(async () => {
  for (let look = 0; look < 3; look += 1) {
    document.querySelector('.top .link').click();
    await new Promise(requestAnimationFrame);
  }
});
assert.equal(await agreed.inputValue(), '1', 'what is being typed is not lost when the page is drawn anew');
await agreed.press('Tab');
await page.waitForFunction(() => /^Ask the customer first/.test(document.querySelector('.card.next .bill')?.textContent));
await sound(bench, 'the limit');
await shot('limit');
await tab('measure');
assert.match(await page.locator('.card.next .bill').first().innerText(), /^Ask the customer first: expected to come to \d+, authorised 1\./);
assert.match(await page.locator('.card.next .bill').last().innerText(), /^Chosen from \d+ tests in \d+ set-ups/);
await shot('ask-first');
await tab('job');
await agreed.fill('');
await agreed.press('Tab');
await page.waitForFunction(() => /^So far/.test(document.querySelector('.card.next .bill')?.textContent));
await settled(page);
await tab('readings');

await press(page.locator('.reading.act .take-back'));
await page.waitForFunction(() => !document.querySelector('.reading.act'));

// A part moved while the next reading is taken.
await press(page.getByRole('button', { name: /change set-up/ }));
await page.getByLabel('part', { exact: true }).selectOption('floor');
await sound(bench, 'a part moved');
await shot('moved');
await press(page.locator('.setup-all').getByRole('button', { name: 'warmed up' }));
await press(page.getByRole('button', { name: 'done', exact: true }));
await page.locator('.setup .chips.scroll').getByRole('button', { name: 'floor joint warmed up' }).waitFor();
await page.waitForFunction(async () => (await (await fetch('/api/v1/answer')).json()).set_up.includes('heat floor'));

// A reading of a sound twin is none of this vehicle's.
await tab('measure');
if (phone) await press(page.getByRole('button', { name: 'measure something else' }));
await page.locator('.leads select').first().selectOption('S1.2');
await page.locator('#value').fill('5.02');
await press(page.getByRole('button', { name: 'on a sound twin' }));
await shot('twin');
await sound(bench, 'a twin');
await press(page.getByRole('button', { name: "note twin's reading" }));
await page.waitForFunction(async () => {
  const { twin, readings } = await (await fetch('/api/v1/answer')).json();
  return twin.length === 1 && readings.every((one) => one.shown !== twin[0].shown);
});
await tab('readings');
await page.locator('.reading .verdict', { hasText: 'on a sound twin' }).waitFor();
await shot('readings');
await bench.browser.close();
