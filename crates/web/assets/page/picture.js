// The surface one works on: the wiring picture with pan, pinch and tap, and the voltage staircase under it.
import { html, useEffect, useLayoutEffect, useRef, useState } from './html.js';
import { tap } from './deeds.js';
import { set, state } from './store.js';
import { boxes, desk, fitted, inside, readable, shows, uncut } from './view.js';

const FINGER = 30; // CSS pixels from a terminal at which a tap still means it
const MOVED = 8; // pixels after which a touch is a drag, not a tap

export function Wiring() {
  const frame = useRef(null);
  const [view, setView] = useState(null);
  const [whole, setWhole] = useState(false);
  const { picture, pictureSize: size } = state;
  const small = size && picture && fitted(picture, size).width > readable(picture, size).width * 1.05;
  const shown = useRef({});

  useSize(frame, 'pictureSize');
  // The server's own SVG is the only markup that is ever inserted.
  useLayoutEffect(() => {
    if (picture) frame.current.querySelector('.drawing').innerHTML = picture.svg;
  }, [picture?.svg]);
  useEffect(() => {
    if (!size?.width || !picture) return;
    const looked = picture.focus.map(Math.round).join();
    const last = shown.current;
    const framed = last.size === size && last.whole === whole && last.width === picture.width && last.height === picture.height;
    const drawn = boxes(frame.current.querySelector('.drawing svg'));
    // What is under the finger stays there as long as one sees what one wants to see.
    const stays = framed && view && (whole || (last.moved ? last.looked === looked || shows(view, picture, size, []) : shows(view, picture, size, drawn)));
    shown.current = { size, whole, width: picture.width, height: picture.height, looked, moved: stays && last.moved };
    if (!stays) setView(whole ? fitted(picture, size) : uncut(readable(picture, size), picture, size, drawn));
  }, [size, picture?.svg, whole]);
  useLayoutEffect(() => {
    const svg = frame.current.querySelector('.drawing svg');
    if (!svg || !view || !size) return;
    svg.setAttribute('viewBox', `${view.x} ${view.y} ${view.width} ${(view.width * size.height) / size.width}`);
    svg.setAttribute('preserveAspectRatio', 'xMidYMid meet');
    svg.removeAttribute('width');
    svg.removeAttribute('height');
    alignStairs(view, size);
    if (state.viewWidth !== Math.round(view.width)) set({ viewWidth: Math.round(view.width) });
  }, [view, picture?.svg, size]);

  const hands = useHands(frame, () => ({ view, size, picture }), (next) => {
    shown.current.moved = true;
    setView(inside(next, picture, size));
  });
  return html`<div class=${whole || !small ? 'surface wiring fits' : 'surface wiring'} ref=${frame} ...${hands}>
    <div class="drawing" style=${{ height: '100%' }}></div>
    ${small && html`<div class="on-top"><button class="button" aria-pressed=${whole} onClick=${() => setWhole(!whole)}>${whole ? 'closer' : 'whole circuit'}</button></div>`}
  </div>`;
}

/** Keeps the size of a frame in the store; a frame that is not shown has none. */
function useSize(frame, name) {
  useLayoutEffect(() => {
    const watch = new ResizeObserver(([entry]) => {
      const { width, height } = entry.contentRect;
      set({ [name]: width > 0 ? { width, height } : null });
    });
    watch.observe(frame.current);
    return () => watch.disconnect();
  }, []);
}

/** One finger or the mouse moves, two fingers or the wheel zoom, a touch that stays is a tap. */
function useHands(frame, now, show) {
  const touches = useRef(new Map());
  const start = useRef(null);
  const local = (event) => {
    const box = frame.current.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  };
  const centre = () => {
    const all = [...touches.current.values()];
    const mid = { x: all.reduce((sum, one) => sum + one.x, 0) / all.length, y: all.reduce((sum, one) => sum + one.y, 0) / all.length };
    const spread = all.length < 2 ? 1 : Math.hypot(all[0].x - all[1].x, all[0].y - all[1].y);
    return { ...mid, spread: Math.max(spread, 1) };
  };
  const begin = (moved) => {
    start.current = { ...centre(), view: now().view, fingers: touches.current.size, moved };
  };
  const down = (event) => {
    if (event.target.closest('.on-top') || !now().view) return;
    touches.current.set(event.pointerId, local(event));
    begin(start.current?.moved ?? false);
  };
  const move = (event) => {
    if (!touches.current.has(event.pointerId)) return;
    touches.current.set(event.pointerId, local(event));
    const from = start.current;
    const to = centre();
    if (!from.moved && from.fingers === 1 && Math.hypot(to.x - from.x, to.y - from.y) < MOVED) return;
    from.moved = true;
    frame.current.setPointerCapture(event.pointerId);
    zoomed(from, to, from.spread / to.spread);
  };
  const zoomed = (from, to, by) => {
    const { size } = now();
    const scale = from.view.width / size.width;
    const width = from.view.width * by;
    show({ x: from.view.x + from.x * scale - to.x * (width / size.width), y: from.view.y + from.y * scale - to.y * (width / size.width), width });
  };
  const up = (event) => {
    if (!touches.current.delete(event.pointerId)) return;
    const from = start.current;
    if (touches.current.size > 0) {
      begin(true);
      return;
    }
    start.current = null;
    if (!from.moved && event.type === 'pointerup') tapped(local(event));
  };
  const tapped = (at) => {
    const { view, size, picture } = now();
    const scale = size.width / view.width;
    const distance = (spot) => Math.hypot((spot.x - view.x) * scale - at.x, (spot.y - view.y) * scale - at.y);
    const nearest = picture.spots.reduce((best, spot) => (distance(spot) < distance(best) ? spot : best), picture.spots[0]);
    if (nearest && distance(nearest) <= FINGER) tap(nearest);
  };
  const wheel = (event) => {
    const { view, size } = now();
    if (!view) return;
    event.preventDefault();
    if (event.ctrlKey) zoomed({ ...local(event), view }, local(event), event.deltaY > 0 ? 1.15 : 1 / 1.15);
    else show({ ...view, x: view.x + (event.deltaX * view.width) / size.width, y: view.y + (event.deltaY * view.width) / size.width });
  };
  const key = (event) => {
    if (event.key !== 'Enter' && event.key !== ' ') return;
    const path = event.target.getAttribute('data-point');
    const spot = now().picture?.spots.find((one) => one.point === path);
    if (!spot) return;
    event.preventDefault();
    tap(spot);
  };
  return { onPointerDown: down, onPointerMove: move, onPointerUp: up, onPointerCancel: up, onWheel: wheel, onKeyDown: key };
}

/** At a desk the staircase has the scale and the left edge of the picture above, so that a place stands under its place. */
function alignStairs(view, size) {
  const svg = document.querySelector('.stairs .drawing svg');
  const frame = state.stairsSize;
  if (!svg || !frame || !desk()) return;
  svg.setAttribute('viewBox', `${view.x} 0 ${view.width} ${(view.width * frame.height) / size.width}`);
  svg.setAttribute('preserveAspectRatio', 'xMidYMin meet');
}

export function Stairs() {
  const frame = useRef(null);
  const { stairs } = state;
  useSize(frame, 'stairsSize');
  useLayoutEffect(() => {
    const drawing = frame.current.querySelector('.drawing');
    drawing.innerHTML = stairs?.svg ?? '';
    const svg = drawing.firstElementChild;
    const above = document.querySelector('.wiring .drawing svg')?.viewBox.baseVal;
    svg?.removeAttribute('width');
    svg?.removeAttribute('height');
    if (above && state.pictureSize) alignStairs(above, state.pictureSize);
  }, [stairs?.svg]);
  return html`<div class="surface stairs" ref=${frame}><div class="drawing" style=${{ height: '100%' }}></div></div>`;
}
