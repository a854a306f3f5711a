// A suspect explained, repaired, and the repair proved by readings within their bands.
import assert from 'node:assert/strict';
import { open, settled, sound } from './browser.mjs';

const bench = await open();
const { page, phone, press } = bench;
const answer = (path) => page.evaluate(async (route) => (await fetch(`/api/v1/${route}`)).json(), path);
await settled(page);
if (phone) await press(page.locator('#tab-left'));
await press(page.locator('.suspect-head').first());
await page.waitForSelector('.assumed', { state: 'attached', timeout: 120000 });
assert.match(await page.locator('.suspect-more').innerText(), /It leans most on this: /);
await press(page.locator('.suspect-more summary'));
await sound(bench, 'a suspect explained');

await press(page.getByRole('button', { name: 'it is repaired: prove it' }));
await page.waitForSelector('.band', { timeout: 120000 });
assert.match(await page.locator('.proof .next-title').innerText(), /^Not proved yet: /);
const bands = page.locator('.band');
const count = await bands.count();
assert.ok(count > 0, 'something proves it');
for (const summary of await page.locator('.proof summary').all()) await press(summary);
await sound(bench, 'a repair on trial');

// Each reading is taken and lies in the middle of its band.
for (let left = count; left > 0; left -= 1) {
  const { readings } = await answer('proof');
  const { band, test, set_up } = readings.find((one) => one.read === 'open');
  const [, low, lowUnit, high, unit] = band.match(/^(-?[\d.]+) ?(\S*) to (-?[\d.]+) (\S+)$/);
  const scale = { mV: 1e-3 };
  const middle = (Number(low) * (scale[lowUnit || unit] ?? 1) + Number(high) * (scale[unit] ?? 1)) / 2;
  const event = { id: `proof-${left}`, device: 'test', sequence: left, at_ms: Date.now(), what: 'reading', set_up, test: test.test, shown: `${middle.toFixed(4)} ${unit.replace('mV', 'V')}` };
  const status = await page.evaluate(async (body) => (await fetch('/api/v1/events', { method: 'POST', headers: { 'content-type': 'application/json' }, body })).status, JSON.stringify(event));
  assert.equal(status, 201);
  await page.waitForFunction((open) => document.querySelectorAll('.band.open').length === open, left - 1, { timeout: 120000 });
}
assert.equal(await page.locator('.band.within').count(), count);
assert.match(await page.locator('.proof .next-title').innerText(), /^Mended: /);
await sound(bench, 'a repair proved');

// The proof is accepted: the job is done, until something is measured or done anew.
await press(page.getByRole('button', { name: 'accept the proof' }));
await page.getByText('The proof is accepted: this job is done.').waitFor({ timeout: 120000 });
assert.equal((await answer('answer')).standing, 'proven');
await sound(bench, 'the proof accepted');

// The proved job as documents: every link gives its document, and the page among them shows in its own style.
const links = await page.locator('.proof .documents a').evaluateAll((all) => all.map((one) => one.href));
assert.equal(links.length, 4);
for (const link of links) {
  const [status, kind] = await page.evaluate(async (url) => {
    const got = await fetch(url);
    return [got.status, got.headers.get('content-type')];
  }, link);
  assert.equal(status, 200, link);
  assert.equal(kind.split(';')[0], link.includes('as=pdf') ? 'application/pdf' : 'text/html');
}
const paper = await bench.context.newPage();
const complaints = [];
paper.on('console', (message) => complaints.push(message.text()));
await paper.goto(links.find((link) => link.includes('technician') && link.includes('as=html')));
assert.deepEqual(complaints, [], 'its style and pictures are allowed');
assert.match(await paper.locator('h1').innerText(), /^Van 31: /);
assert.equal(await paper.locator('body').evaluate((one) => getComputedStyle(one).backgroundColor), 'rgb(255, 253, 248)');
assert.ok(await paper.evaluate(() => document.documentElement.scrollWidth <= innerWidth), 'nothing hangs over');
assert.ok(!(await paper.locator('body').innerText()).includes('not finished'));
await paper.close();

// The job is taken into what the shop has learnt; the switch leaves that out again.
await press(page.getByRole('button', { name: 'count this job' }));
await page.waitForFunction(() => document.querySelector('.proof').innerText.includes('counts among the shop'), null, { timeout: 120000 });
await sound(bench, 'a job counted');
await settled(page);
if (phone) await press(page.locator('#tab-left'));
assert.match(await page.locator('.shop').innerText(), /The shop’s 1 solved job shapes these chances/);
assert.match(await page.locator('.shop li').first().innerText(), /seen here once, taken \d\.\d times as likely/);
await sound(bench, 'what the shop has learnt');
await press(page.locator('.shop button'));
await page.waitForFunction(() => document.querySelector('.shop').innerText.includes('left out'), null, { timeout: 60000 });
assert.equal(await page.locator('.shop li').count(), 0);
console.log('proved');
await bench.browser.close();
