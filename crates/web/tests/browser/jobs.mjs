// The jobs of a shop: list, a new job in three fields, its bench, back, search; where it stands; a second device.
import assert from 'node:assert/strict';
import { open, settled, sound } from './browser.mjs';

const bench = await open('.jobs .group, .jobs .none');
const { browser, context, page, press, said, size } = bench;
const shot = async (name) => process.env.SHOTS && page.screenshot({ path: `${process.env.SHOTS}/${name}-${size}.png` });
const titles = () => page.locator('.job .title').allInnerTexts();
const listed = (count) => page.waitForFunction((wanted) => document.querySelectorAll('.job').length === wanted, count);
const group = (words) => page.locator('.group', { has: page.getByRole('heading', { name: words }) });
const root = new URL(page.url());
async function stands(on) {
  if (bench.phone) await press(page.locator('#tab-job'));
  await page.getByLabel('where the job stands').locator('visible=true').selectOption(on);
}

// The list: what stands alike stands together, a broken file is told and hides nothing.
await sound(bench, 'the list');
await shot('jobs');
assert.deepEqual(await titles(), ['HH-PW 31, delivery van', 'B-XY 77, city car', 'M-AB 5, lorry']);
assert.match(await group(/waiting for parts/i).innerText(), /B-XY 77.*waits since/s);
assert.match(await group(/cannot be read/i).innerText(), /broken\s+its line 2 cannot be read/);
for (const [typed, count] of [['hhpw31', 1], ['P0533', 1], ['zebra', 0], ['', 3]]) {
  await page.getByLabel('find by plate').fill(typed);
  await listed(count);
}

// A new job in three fields; the code stands among the words.
await press(page.getByRole('link', { name: 'new job' }));
await page.waitForSelector('.start .circuits');
await page.getByLabel('plate or name').fill('K-ZZ 9');
await page.getByLabel('vehicle', { exact: true }).fill('delivery van');
await page.getByLabel('what is wrong').fill('stalls when warm, P0122 pending');
await page.locator('.decoded', { hasText: 'P0122 throttle or pedal position A' }).waitFor();
await page.getByRole('button', { name: 'P0122 is pending, tap for stored only' }).waitFor();
await sound(bench, 'three fields');
await shot('three-fields');
await press(page.locator('.circuit[aria-pressed]').first());
await press(page.getByRole('button', { name: 'go on with this circuit' }));
await page.waitForSelector('.drawn svg [data-point]');
await press(page.getByRole('button', { name: 'begin the job' }));
await page.waitForSelector('.wiring svg [data-point]');
assert.equal(new URL(page.url()).pathname, '/job/K-ZZ%209%20delivery%20van/');
assert.match(await page.locator('h1').innerText(), /K-ZZ 9, delivery van/);
await settled(page);
await sound(bench, 'its bench');
await shot('its-bench');

// It waits for the customer; another device sees that at once, in the list and on the bench.
const other = await context.newPage();
await other.goto(page.url());
await other.waitForSelector('.wiring svg [data-point]');
await stands('customer');
await other.waitForFunction(() => document.querySelector('.standing').value === 'customer');
await other.close();
await settled(page);
await sound(bench, 'the job itself');
await shot('job-panel');

// Back to the list, and the job is found by each of what was typed.
await press(page.getByRole('link', { name: '‹ jobs' }));
await listed(4);
assert.match(await group(/waiting for the customer/i).innerText(), /K-ZZ 9, delivery van/);
for (const typed of ['k-zz 9', 'kzz9', 'P0122', 'throttle warm']) {
  await page.getByLabel('find by plate').fill('zebra');
  await listed(0);
  await page.getByLabel('find by plate').fill(typed);
  await listed(1);
}
await sound(bench, 'found');
await shot('found');
// The way there and back keeps the search.
await press(page.locator('.job'));
await page.waitForSelector('.wiring svg [data-point]');
await press(page.getByRole('link', { name: '‹ jobs' }));
await listed(1);
assert.equal(await page.getByLabel('find by plate').inputValue(), 'throttle warm');

// A link to a job opens it; one to none, or to a broken one, says so and leads back.
for (const [job, words] of [['nobody', /there is no such job/], ['broken', /its line 2 cannot be read/]]) {
  await page.goto(new URL(`/job/${job}/`, root).href);
  await page.getByText(words).waitFor();
  assert.ok(await page.getByRole('link', { name: '‹ jobs' }).isVisible());
}
// The browser itself notes both refusals.
assert.ok(said.every((line) => /status of 4(04|22)/.test(line)), said.join('\n'));
said.length = 0;
for (const look of ['dark', 'sunlight']) {
  await page.goto(root.href);
  await listed(4);
  await page.evaluate((name) => { document.documentElement.dataset.look = name; }, look);
  await sound(bench, `the list, ${look}`);
}

// What waits for one job while its events cannot be sent is not sent to another.
const opened = async (title) => {
  await press(page.locator('.job', { hasText: title }));
  await page.waitForSelector('.wiring svg [data-point]');
  await settled(page);
};
const standing = () => page.evaluate(async () => (await (await fetch(`${location.pathname}api/v1/answer`)).json()).standing);
const events = '**/job/a/api/v1/events';
await page.route(events, (route) => route.abort());
await opened('HH-PW 31');
await stands('parts');
await page.waitForSelector('.link-state');
await page.goto(root.href);
await listed(4);
await opened('M-AB 5');
assert.equal(await page.locator('.link-state').count(), 0, 'nothing waits for this job');
assert.equal(await standing(), 'customer', 'what was said of another job says nothing of this one');
await page.unroute(events);
await press(page.getByRole('link', { name: '‹ jobs' }));
await listed(4);
await opened('HH-PW 31');
await page.waitForFunction(async () => (await (await fetch(`${location.pathname}api/v1/answer`)).json()).standing === 'parts');
await browser.close();
