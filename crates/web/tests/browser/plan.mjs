// A plan: asked for, made with progress while the rest goes on, read as a tree, printed alone, overtaken by a reading.
import assert from 'node:assert/strict';
import { open, settled, sound } from './browser.mjs';

const bench = await open();
const { page, press } = bench;
const shot = async (name) => process.env.SHOTS && page.screenshot({ path: `${process.env.SHOTS}/${name}-${bench.size}.png` });
await settled(page);

const next = await page.locator('.card.next .next-title').innerText();
await press(page.getByRole('button', { name: 'plan further ahead' }));
await page.waitForSelector('.card.plan');
await page.waitForSelector('.plan-step', { timeout: 120000 });
const first = page.locator('.card.plan > .plan-step');
assert.equal(await first.locator('b').first().innerText(), next, 'it begins with the next measurement');
assert.ok((await first.locator('> .plan-branches > li').count()) >= 2, 'and goes on from what that shows');
await first.scrollIntoViewIfNeeded();
await sound(bench, 'the plan');
await shot('plan');

await page.emulateMedia({ media: 'print' });
const seen = await page.evaluate(() => [...document.querySelectorAll('.card, .wiring, .top, .tabs, .entry-place')]
  .filter((one) => one.getClientRects().length > 0).map((one) => one.className));
assert.deepEqual(seen, ['card plan'], 'on paper there is the plan alone');
assert.ok(await page.locator('.print-only').isVisible(), 'with the job it is of');
await page.emulateMedia({ media: 'screen' });

await press(page.locator('.card.plan').getByRole('button', { name: 'close' }));
await page.waitForFunction(() => !document.querySelector('.card.plan'));
await bench.browser.close();
