// Opens the page in Chromium at one of two sizes, and holds it to what must be true at any moment.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { chromium } from 'playwright-core';

const SIZES = {
  phone: { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 },
  desk: { viewport: { width: 1440, height: 900 } },
};
const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

export async function open(ready = '.wiring svg [data-point]') {
  const [url, size] = process.argv.slice(2);
  const browser = await chromium.launch({ executablePath: process.env.CHROMIUM, args: ['--no-sandbox'] });
  // The page's policy refuses foreign scripts; axe is one, and comes in by the debugger's door.
  const context = await browser.newContext({ ...SIZES[size], bypassCSP: false, reducedMotion: 'reduce' });
  const page = await context.newPage();
  const said = [];
  page.on('console', (message) => ['error', 'warning'].includes(message.type()) && said.push(message.text()));
  page.on('pageerror', (error) => said.push(error.stack));
  await page.goto(url);
  await page.waitForSelector(ready);
  const phone = size === 'phone';
  return { browser, context, page, said, phone, size, press: (target) => (phone ? target.tap() : target.click()) };
}

export async function sound({ page, said, size }, when) {
  assert.deepEqual(said, [], `${when}: the console is quiet`);
  const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  assert.ok(over <= 0, `${when}: ${over} px of horizontal scroll`);
  await page.evaluate(AXE);
  const { violations } = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
  const grave = violations.filter((one) => ['serious', 'critical'].includes(one.impact));
  const told = grave.map((one) => `${one.id}: ${one.nodes.map((node) => `${node.html.slice(0, 160)} ${node.failureSummary}`).join('\n  ')}`);
  assert.deepEqual(told, [], `${when}, ${size}: accessibility`);
  await thumbs(page, when);
  assert.deepEqual(await overlaps(page), [], `${when}: labels of the picture overlap`);
}

/** Everything that is tapped is at least 44 px high and wide, or is a part of something that is. */
async function thumbs(page, when) {
  const small = await page.evaluate(() => [...document.querySelectorAll('button, select, input')]
    .map((one) => ({ box: one.getBoundingClientRect(), words: one.getAttribute('aria-label') ?? one.textContent ?? one.id }))
    .filter(({ box }) => box.width > 0 && (box.height < 43.5 || box.width < 43.5))
    .map(({ box, words }) => `${words}: ${box.width.toFixed(0)} × ${box.height.toFixed(0)}`));
  assert.deepEqual(small, [], `${when}: too small for a thumb`);
}

function overlaps(page) {
  return page.evaluate(() => {
    // Letters stand on their baseline; the box that a browser tells is taller, the more so the smaller it is drawn.
    const box = (text) => {
      const { x, width } = text.getBBox();
      const [base, size] = ['y', 'font-size'].map((name) => Number(text.getAttribute(name)));
      return { words: text.textContent, left: x, right: x + width, top: base - 0.75 * size, bottom: base + 0.2 * size };
    };
    const texts = [...document.querySelectorAll(':is(.wiring, .drawn) svg text')].map(box);
    const found = [];
    texts.forEach((one, at) => texts.slice(at + 1).forEach((other) => {
      const wide = Math.min(one.right, other.right) - Math.max(one.left, other.left);
      const high = Math.min(one.bottom, other.bottom) - Math.max(one.top, other.top);
      if (wide > 1 && high > 1) found.push(`${one.words} / ${other.words}`);
    }));
    return found;
  });
}

/** Waits until the page shows an answer that rests on every event. */
export function settled(page) {
  return page.waitForFunction(() => document.querySelector('.bench')?.dataset.working === 'false', null, { timeout: 60000 });
}

export const leftWords = (page) => page.locator('.suspects').evaluate((list) => list.innerText);

/** What the card proposes, and from which set-up. */
export const proposed = (page) => page.locator('.card.next').evaluate((card) => ({
  stands: card.dataset.stands,
  title: card.querySelector('.next-title')?.textContent,
  minutes: card.querySelector('.card-head b')?.textContent,
  how: card.querySelector('.how')?.textContent ?? '',
}));

/** Of the parts of the picture that this selects, those that are cut by its edge. */
export function whole(page, selector) {
  return page.evaluate((wanted) => {
    const frame = document.querySelector('.wiring').getBoundingClientRect();
    const parts = [...document.querySelectorAll('.wiring svg :is(text, rect)')].filter((one) => one.matches(wanted));
    if (!parts.length) throw new Error(`nothing of the picture is ${wanted}`);
    const cut = (box) => box.top < frame.bottom && box.bottom > frame.top && box.left < frame.right && box.right > frame.left
      && (box.top < frame.top || box.bottom > frame.bottom || box.left < frame.left || box.right > frame.right);
    return parts.filter((one) => cut(one.getBoundingClientRect())).map((one) => one.textContent || one.outerHTML);
  }, selector);
}
