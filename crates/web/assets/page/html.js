// The page's view layer: Preact with tagged templates. Everything that a template inserts becomes text, never markup.
import { h, render } from '../vendor/preact.js';
import htm from '../vendor/htm.js';

export { render };
export { useEffect, useLayoutEffect, useRef, useState } from '../vendor/hooks.js';
export const html = htm.bind(h);
