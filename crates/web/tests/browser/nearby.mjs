// A phone is let in: the bench's screen shows a code, the phone opens its link and sees the jobs; it is shut out again.
import assert from 'node:assert/strict';
import { open, sound } from './browser.mjs';

const bench = await open('.jobs .group, .jobs .none');
const { browser, page, press, size } = bench;
const shot = async (of, name) => process.env.SHOTS && of.screenshot({ path: `${process.env.SHOTS}/${name}-${size}.png` });

await press(page.getByRole('link', { name: 'phones' }));
await page.waitForSelector('#nearby header');
await page.getByText('No device is let in.').waitFor();
await sound(bench, 'before a phone is let in');
await shot(page, 'phones-none');
await press(page.getByRole('button', { name: 'let a phone in' }));
await page.locator('.code img').waitFor();
await sound(bench, 'the code');
await shot(page, 'phones-code');
// What the phone's camera would read.
const link = await page.evaluate(async () => {
  const answer = await fetch('/nearby/invite', { method: 'POST', headers: { 'content-type': 'application/json' }, body: '{}' });
  return (await answer.json()).links[0].address;
});

// A phone that has no code, then one that has.
const sizes = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 };
const phones = await browser.newContext(sizes);
const phone = await phones.newPage();
const said = [];
phone.on('pageerror', (error) => said.push(error.stack));
const there = { page: phone, said, size: 'phone' };
await phone.goto(new URL('/', link).href);
await phone.getByRole('heading', { name: 'Come in' }).waitFor();
await sound(there, 'a stranger');
await shot(phone, 'join-stranger');
await phone.goto(link.replace(/#.*/, `#${'0'.repeat(32)}`));
await phone.getByText('this is not the code that the bench shows now').waitFor();
await phone.goto('about:blank');
await phone.goto(link);
await phone.waitForSelector('.jobs');
assert.equal(new URL(phone.url()).hash, '', 'the secret is gone from the address');
assert.equal(await phone.getByRole('link', { name: 'phones' }).count(), 0, 'a phone lets nobody in');
assert.deepEqual(said, []);
// Coming back later needs no code.
await phone.goto(new URL('/', link).href);
await phone.waitForSelector('.jobs');
await phone.goto(new URL('/install', link).href);
await phone.getByRole('link', { name: 'open the safe page' }).waitFor();
assert.match(await phone.locator('#secure').getAttribute('href'), /^https:/);
await sound(there, 'how to trust the bench');
await shot(phone, 'install');

await page.getByText(/since .*, last here/).waitFor();
await sound(bench, 'a phone is in');
await shot(page, 'phones-one');
await press(page.getByRole('button', { name: 'shut out: phone' }));
await page.getByText('No device is let in.').waitFor();
await phone.goto(new URL('/', link).href);
await phone.getByRole('heading', { name: 'Come in' }).waitFor();
await browser.close();
