// The same job after the program was started again.
import assert from 'node:assert/strict';
import { open, settled, sound } from './browser.mjs';

const bench = await open();
const { page, phone, press } = bench;
await settled(page);
if (phone) await press(page.locator('#tab-readings'));
assert.match(await page.locator('.reading').allInnerTexts().then((texts) => texts.join('\n')), /dark/);
await sound(bench, 'opened again');
await bench.browser.close();
