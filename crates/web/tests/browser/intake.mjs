// What is said at intake: each answer says what it does to where suspicion starts; codes told as typed; battery; photos.
import assert from 'node:assert/strict';
import { open, settled, sound } from './browser.mjs';

const bench = await open();
const { page, phone, press, size } = bench;
const tab = async (name) => phone && press(page.locator(`#tab-${name}`));
const shot = async (name) => process.env.SHOTS && page.screenshot({ path: `${process.env.SHOTS}/${name}-${size}.png` });
const card = page.locator('.about');
const answer = () => page.evaluate(async () => (await fetch('/api/v1/answer')).json());
const starts = (text) => card.locator('.starts', { hasText: text }).waitFor();
await settled(page);
await tab('job');
await sound(bench, 'the job');
await shot('intake');
assert.equal(await card.locator('.starts').count(), 0);

// Words stay as they are typed while the page is drawn anew, and are then the job's.
const words = page.getByLabel('the customer’s words');
await words.fill('cold air stops when the fan starts');
await page.evaluate(() => document.querySelector('.top .tools .link').click());
assert.equal(await words.inputValue(), 'cold air stops when the fan starts');
await words.press('Tab');
await page.waitForFunction(() => document.querySelector('.top .complaint').textContent.startsWith('cold air stops'));
for (const [label, text] of [['when it happens', 'with the fan'], ['mileage', '81 200 km'], ['recent work, in words', 'radiator']]) {
  await page.getByLabel(label).fill(text);
  await page.getByLabel(label).press('Tab');
}
await page.waitForFunction(async () => Object.keys((await (await fetch('/api/v1/answer')).json()).intake.told).length === 3);

// Each answer says what it does, and the suspects say why they start as they do.
await settled(page);
await press(card.getByRole('button', { name: 'water inside' }));
await starts('Water between cavities, leaks, corroded contacts');
await card.getByLabel('lately worked on').selectOption('floor');
await starts('Floor joint. What can break there');
await card.getByLabel('accessory fitted at').selectOption('S1');
await starts('Taps, contacts and leads there');
await card.getByLabel('replaced in vain').selectOption('fan');
await starts('what can fail in it once more');
await settled(page);
assert.equal((await answer()).intake.starts.length, 4);
await card.locator('.starts').last().scrollIntoViewIfNeeded();
await sound(bench, 'what the answers do');
await shot('intake-starts');
await tab('left');
await press(page.locator('.suspect-head', { hasText: 'neighbouring terminals' }).first());
await page.locator('.suspect-more', { hasText: 'times as likely: somebody lately worked at floor joint' }).waitFor();
await shot('intake-suspect');
await press(page.locator('.suspect-head', { hasText: 'neighbouring terminals' }).first());
await tab('job');
await press(card.getByRole('button', { name: 'floor joint ✕' }));
await page.waitForFunction(() => !document.querySelector('.about').textContent.includes('Floor joint. What can break'));

// Codes are told as they are typed, and noted as they were found.
const codes = page.getByLabel('trouble codes');
await codes.fill('P0533 pending P01Z2');
await card.locator('.decoded .wrong').waitFor();
await card.locator('.decoded', { hasText: 'P0533' }).waitFor();
await sound(bench, 'codes typed');
await shot('intake-codes');
await codes.fill('P0533 pending');
await press(card.getByRole('button', { name: 'note this code' }));
await page.waitForFunction(async () => {
  const { readings, acts } = await (await fetch('/api/v1/answer')).json();
  return JSON.stringify([readings, acts]).includes('P0533');
});
assert.equal(await codes.inputValue(), '');

// The battery's voltage is a reading.
await page.getByLabel('battery voltage').fill('12,4');
await press(card.getByRole('button', { name: 'note 12,4 V' }));
await page.waitForFunction(async () => (await (await fetch('/api/v1/answer')).json()).readings.some((one) => one.test.startsWith('voltmeter battery+') && one.shown === '12.4 V'));

// A photo is made smaller, kept, shown, and taken back; what is none is told.
const picture = await page.evaluate(async () => {
  const canvas = Object.assign(document.createElement('canvas'), { width: 3000, height: 1500 });
  const pen = canvas.getContext('2d');
  pen.fillStyle = '#b4501c';
  pen.fillRect(0, 0, 3000, 1500);
  return canvas.toDataURL('image/png').split(',')[1];
});
const file = page.locator('.take-photo input');
await file.setInputFiles({ name: 'joint.png', mimeType: 'image/png', buffer: Buffer.from(picture, 'base64') });
const image = card.locator('.photos img');
await image.waitFor();
await image.scrollIntoViewIfNeeded();
await page.waitForFunction(() => document.querySelector('.photos img').naturalWidth === 2048);
await sound(bench, 'a photo');
await shot('intake-photo');
await file.setInputFiles({ name: 'notes.txt', mimeType: 'text/plain', buffer: Buffer.from('no picture') });
await card.locator('[role="alert"]', { hasText: 'no JPEG, PNG or WebP' }).waitFor();
bench.said.splice(0, bench.said.length, ...bench.said.filter((text) => !text.includes('422')));
await press(card.locator('.photos .take-back'));
await image.waitFor({ state: 'detached' });
for (const look of ['dark', 'sunlight']) {
  await page.evaluate((name) => { document.documentElement.dataset.look = name; }, look);
  await sound(bench, `the job, ${look}`);
}
await bench.browser.close();
