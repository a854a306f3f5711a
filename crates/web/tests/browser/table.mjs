// Scan data pasted as a table: what it is, what is odd about it, and noted as a reading.
import assert from 'node:assert/strict';
import { open, settled, sound } from './browser.mjs';

const bench = await open();
const { page, phone, press } = bench;
const shot = async (name) => process.env.SHOTS && page.screenshot({ path: `${process.env.SHOTS}/${name}-${bench.size}.png` });
await settled(page);
if (phone) await press(page.locator('#tab-readings'));
const before = await page.locator('.reading:not(.act)').count();
await press(page.getByRole('button', { name: 'paste scan data' }));
const field = page.locator('.paste textarea');
await field.fill('Time (s),Refrigerant pressure (bar),Engine speed (rpm)\n0,32.0,800\n1,32.0,810\n2,32.0,805\n');
await press(page.getByRole('button', { name: 'see what it says' }));
await page.waitForSelector('.paste .columns');
const said = await page.locator('.paste').innerText();
assert.match(said, /the most of what the .* can show/, said);
assert.match(said, /Not values of this circuit: Engine speed/, said);
await sound(bench, 'a pasted table');
await shot('table');
await press(page.getByRole('button', { name: 'note this reading' }));
await page.waitForFunction((count) => document.querySelectorAll('.reading:not(.act)').length > count, before);

// What of a list is passed over is told: a cell without a number, a unit of another kind.
await press(page.getByRole('button', { name: 'paste scan data' }));
await field.fill('Parameter,Value,Unit\nRefrigerant pressure,2.1,V\nEngine speed,abc,rpm\nCoolant,90,°C\n');
await press(page.getByRole('button', { name: 'see what it says' }));
await page.getByText('Refrigerant pressure is in V').waitFor();
assert.match(await page.locator('.paste').innerText(), /No numbers: Engine speed/);
await sound(bench, 'a list of which much is passed over');
await shot('passed-over');
await press(page.getByRole('button', { name: 'close' }));

// What is no table is refused with the reason, and stays to be mended.
await press(page.getByRole('button', { name: 'paste scan data' }));
await field.fill('no table at all');
await press(page.getByRole('button', { name: 'see what it says' }));
await page.waitForSelector('.paste [role=alert]');
assert.equal(await field.inputValue(), 'no table at all');
console.log('a table of three rows: one tap to paste, one to see, one to note');
await bench.browser.close();
