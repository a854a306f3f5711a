// One reading from tap to suspects, and back.
import assert from 'node:assert/strict';
import { leftWords, open, proposed, settled, sound, whole } from './browser.mjs';

const bench = await open();
const { page, phone, press } = bench;
const tab = async (name) => phone && press(page.locator(`#tab-${name}`));

/** With each instrument: what of its keys reaches into the words beside them, and by how much. */
async function intruders() {
  const tools = page.locator('.entry-head select');
  const [before, all] = [await tools.inputValue(), await tools.locator('option').evaluateAll((list) => list.map((one) => one.value))];
  const found = [];
  for (const tool of all) {
    await tools.selectOption(tool);
    const over = await page.evaluate(() => {
      const left = document.querySelector('.entry-judge').getBoundingClientRect().left;
      return [...document.querySelectorAll('.entry-keys :is(button, input)')].map((one) => one.getBoundingClientRect().right - left)
        .filter((over) => over > 0);
    });
    if (over.length > 0) found.push(`${tool}: ${Math.max(...over).toFixed(0)} px`);
  }
  await tools.selectOption(before);
  return found;
}

await settled(page);
await sound(bench, 'opened');
assert.deepEqual(await whole(page, '.pw-flag'), [], 'no reading is cut off');
if (!phone) assert.deepEqual(await whole(page, 'text[font-size="12.5"][font-weight="700"], text[font-size="14"][font-weight="700"]'), [], 'no title is cut off');

assert.match(await page.locator('h1').innerText(), /Van 31/);
await tab('left');
const before = await leftWords(page);
await sound(bench, 'what is left');
await tab('readings');
const readings = await page.locator('.reading').count();
assert.match(await page.locator('.reading .stood').last().innerText(), /sensor plug apart/);
await sound(bench, 'readings');
await tab('stairs');
await page.waitForSelector('.stairs svg');
await sound(bench, 'voltages');
await tab('measure');

// A plug apart, by tapping chips: what to do next starts from there.
const first = await proposed(page);
await press(page.getByRole('button', { name: /change set-up/ }));
const plug = page.locator('.setup-all').getByRole('button', { name: /^floor joint/ });
await press(plug);
assert.equal(await plug.getAttribute('aria-pressed'), 'true');
await sound(bench, 'set-up open');
await page.waitForFunction((old) => document.querySelector('.card.next').dataset.stands !== old, first.stands);
await settled(page);
const parted = await proposed(page);
assert.match(parted.stands, /floor apart/);
const told = await page.evaluate(async () => (await (await fetch('/api/v1/answer')).json()).next[0]);
assert.deepEqual([parted.title, parted.minutes, parted.how], [told.title, told.minutes, told.how.join(' · ')]);
assert.equal(/put the floor joint together/.test(parted.how), !/floor apart/.test(told.set_up), 'what was parted is put together where it must be');
await press(plug);
await page.waitForFunction((old) => document.querySelector('.card.next').dataset.stands === old, first.stands);
await settled(page);
assert.deepEqual(await proposed(page), first, 'together again, all is as before');
await press(page.locator('.setup-all').getByRole('button', { name: /^fan plug/ }));
await press(page.locator('.setup-all').getByRole('button', { name: /^fan plug/ }));
await press(page.getByRole('button', { name: 'done' }));

if (!phone) assert.deepEqual(await intruders(), [], 'what is tapped stands clear of the words beside it');

// A tap on the picture puts the red lead there.
const picture = page.locator('.wiring');
if (phone) await press(page.getByRole('button', { name: 'whole circuit' }));
await page.waitForTimeout(300);
const view = () => page.locator('.wiring .drawing svg').getAttribute('viewBox');
const beforeTap = await view();
const at = await page.locator('.wiring svg [data-point="S1.3"]').boundingBox();
if (phone) await page.touchscreen.tap(at.x + at.width / 2, at.y + at.height / 2);
else await page.mouse.click(at.x + at.width / 2, at.y + at.height / 2);
await page.waitForFunction(() => document.querySelector('.leads select')?.value.startsWith('S1.3'));
assert.ok(await picture.isVisible());
await page.waitForSelector('.wiring svg .pw-lead');
if (!phone) {
  assert.equal(await view(), beforeTap, 'what was tapped stays under the pointer');
  assert.equal(await page.evaluate(() => document.querySelector('.spot:hover')?.dataset.point), 'S1.3');
}

// Another instrument, its judgement before it is noted, and the reading.
await page.locator('.entry select').first().selectOption('light');
await page.waitForSelector('.entry-judge .worth');
await sound(bench, 'about to measure');
const hidden = await page.locator('.entry-judge').evaluate((one) => one.scrollHeight - one.clientHeight);
assert.ok(hidden <= 1, `${hidden} px of what the test would do are cut off`);
const began = Date.now();
await press(page.locator('.answers').getByRole('button', { name: 'dark' }));
await page.waitForFunction((old) => document.querySelectorAll('.reading:not(.waiting)').length > old, readings);
console.log(`${bench.size}: reading on the page after ${Date.now() - began} ms`);
await settled(page);
await tab('left');
assert.notEqual(await leftWords(page), before, 'a reading changes what is left');
await sound(bench, 'after a reading');

// Why a suspect, and what it would make every point read.
await press(page.locator('.suspect-head').first());
await page.waitForSelector('.why li');
await page.waitForSelector('.expects tbody tr, .suspect-more .soft');
await sound(bench, 'a suspect open');
await press(page.locator('.suspect-head').first());

// Undo brings the earlier answer back, redo the later one.
await tab('readings');
await press(page.locator('.card').getByRole('button', { name: 'undo', exact: true }));
await page.waitForFunction((old) => document.querySelectorAll('.reading').length === old, readings);
await settled(page);
await tab('left');
assert.equal(await leftWords(page), before, 'undo restores what was left');
await tab('readings');
await press(page.locator('.card').getByRole('button', { name: 'redo', exact: true }));
await page.waitForFunction((old) => document.querySelectorAll('.reading').length === old + 1, readings);
await settled(page);

// The proposal sets the bench up; a number is typed on the keys or the keyboard; the server refuses nonsense with help.
await tab('measure');
await press(page.getByRole('button', { name: 'do it' }));
await page.waitForSelector('.entry-judge .worth');
await sound(bench, 'a proposal taken up');
await page.locator('.entry select').first().selectOption('voltmeter');
await page.locator('.leads select').first().selectOption('S1.3');
if (phone) for (const key of ['1', '2', 'point', '4', 'change sign']) await press(page.locator('.keys').getByRole('button', { name: key, exact: true }));
else await page.locator('#value').fill('a lot');
if (phone) {
  assert.equal(await page.locator('#value').inputValue(), '-12.4');
  await page.locator('#value').fill('-');
}
const typed = await page.locator('#value').inputValue();
await press(page.getByRole('button', { name: 'note reading' }));
await page.waitForSelector('[role="alert"]');
assert.equal(await page.locator('#value').inputValue(), typed, 'a refused value stands again to be corrected');
assert.equal(await page.locator('.leads select').first().inputValue(), 'S1.3');
for (const look of ['dark', 'sunlight']) {
  await page.evaluate((name) => { document.documentElement.dataset.look = name; }, look);
  bench.said.splice(0, bench.said.length, ...bench.said.filter((text) => !text.includes('422')));
  await sound(bench, `the ${look} look`);
}

// Without the server a reading waits and is sent later, once.
await page.evaluate(() => { document.documentElement.dataset.look = 'light'; });
await bench.context.setOffline(true);
await page.locator('.entry select').first().selectOption('voltmeter');
await page.locator('.leads select').first().selectOption('S1.3');
await page.locator('#value').fill('10.4');
await press(page.getByRole('button', { name: 'note reading' }));
await page.waitForSelector('.link-state');
await bench.context.setOffline(false);
await page.waitForFunction((old) => document.querySelectorAll('.reading:not(.waiting)').length === old + 2, readings, { timeout: 60000 });
await settled(page);
await bench.browser.close();
