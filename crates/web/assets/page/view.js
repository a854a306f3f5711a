// Which part of the wiring picture shows: x, y and width in the picture's pixels, for a frame of a size on the page.

const READABLE = { phone: 0.92, desk: 0.7 }; // least scale at which the picture's words can be read
const STEP = 8; // of the picture's pixels, in the search for a view that cuts nothing
const MARGIN = 6; // around a label that is to be seen whole
const INSET = 0.1; // share of the view at each edge in which what one looks at is not well seen
const FAR = 0.01; // what a pixel further away costs, in the weights of labels
const WEIGHTS = { flag: 8, suspect: 3, title: 2, words: 0.5 };
const ZOOMS = [1, 1.02, 1.04, 1.06, 1.1]; // further away, as far as words can still be read …
const ZOOM_COST = 1; // … each step at a price
const BUTTON = { width: 150, height: 64 }; // of the page's pixels, what the button covers at the lower right

const least = () => (desk() ? READABLE.desk : READABLE.phone);
const clamp = (value, low, high) => Math.min(high, Math.max(low, value));

/** The part of the picture that shows: x, y and width in the picture's pixels, for a frame of this shape. */
export function fitted(picture, frame) {
  const width = Math.max(picture.width, (picture.height * frame.width) / frame.height);
  return { x: (picture.width - width) / 2, y: 0, width };
}

export const desk = () => matchMedia('(min-width: 900px)').matches;

/** Close enough to read, around where one wants to look; as much as goes in across. */
export function readable(picture, frame) {
  const [x, y] = picture.focus;
  const width = Math.min(fitted(picture, frame).width, picture.width, frame.width / least());
  return inside({ x: x - width / 2, y: y - ((width * frame.height) / frame.width) / 2, width }, picture, frame);
}

export function inside(view, picture, frame) {
  const whole = fitted(picture, frame);
  const width = clamp(view.width, Math.min(whole.width, frame.width / 4), whole.width);
  const height = (width * frame.height) / frame.width;
  const x = width >= picture.width ? (picture.width - width) / 2 : clamp(view.x, 0, picture.width - width);
  const y = height >= picture.height ? (picture.height - height) / 2 : clamp(view.y, 0, picture.height - height);
  return { x, y, width };
}

/** Labels and marks of the drawn picture, each with its weight. A hatched place may run off the edge, words may not. */
export function boxes(svg) {
  const all = (selector, kind) => [...svg.querySelectorAll(selector)].map((one) => {
    const { x, y, width, height } = one.getBBox();
    const box = { left: x - MARGIN, top: y - MARGIN, right: x + width + MARGIN, bottom: y + height + MARGIN };
    const weight = WEIGHTS[kind ?? (one.getAttribute('font-weight') === '700' ? 'title' : 'words')];
    return { ...box, weight, cut: kind === 'suspect' ? 0 : -weight, flag: kind === 'flag' };
  });
  return [...all('.pw-flag', 'flag'), ...all('.pw-suspect rect', 'suspect'), ...all('text')];
}

function area(view, frame) {
  return { left: view.x, top: view.y, right: view.x + view.width, bottom: view.y + (view.width * frame.height) / frame.width };
}

/** The corner of an area that the button lies on. */
function corner(seen, frame) {
  const scale = (seen.right - seen.left) / frame.width;
  return { ...seen, left: seen.right - BUTTON.width * scale, top: seen.bottom - BUTTON.height * scale };
}

const within = (box, seen) => box.left >= seen.left && box.right <= seen.right && box.top >= seen.top && box.bottom <= seen.bottom;
const touched = (box, seen) => box.left < seen.right && box.right > seen.left && box.top < seen.bottom && box.bottom > seen.top;

function sees(seen, [x, y]) {
  const [across, down] = [INSET * (seen.right - seen.left), INSET * (seen.bottom - seen.top)];
  return x >= seen.left + across && x <= seen.right - across && y >= seen.top + down && y <= seen.bottom - down;
}

/** Whether a view has what one wants to look at well inside and cuts no reading. */
export function shows(view, picture, frame, drawn) {
  const seen = area(view, frame);
  return sees(seen, picture.focus) && drawn.every((box) => !box.flag || within(box, seen) || !touched(box, seen));
}

/** The view near `from` that shows most labels whole and cuts the least, what one wants to look at staying inside. */
export function uncut(from, picture, frame, drawn) {
  let [best, most] = [from, -Infinity];
  const furthest = Math.max(from.width, frame.width / least());
  const middle = (view) => [view.x + view.width / 2, view.y + (view.width * frame.height) / frame.width / 2];
  const [x, y] = middle(from);
  ZOOMS.map((zoom) => from.width * zoom).filter((width) => width <= furthest).forEach((width, step) => {
    const height = (width * frame.height) / frame.width;
    for (let down = -height / 2; down <= height / 2; down += STEP) {
      for (let across = -width / 2; across <= width / 2; across += STEP) {
        const view = inside({ x: x + across - width / 2, y: y + down - height / 2, width }, picture, frame);
        const [seen, at] = [area(view, frame), middle(view)];
        const hidden = corner(seen, frame);
        let worth = -FAR * (Math.abs(at[0] - x) + Math.abs(at[1] - y)) - ZOOM_COST * step;
        if (!sees(seen, picture.focus)) worth -= 100;
        for (const box of drawn) {
          if (touched(box, seen)) worth += within(box, seen) && !touched(box, hidden) ? box.weight : box.cut;
        }
        if (worth > most) [best, most] = [view, worth];
        // As wide as the picture: there is nothing to move across.
        if (width >= picture.width) break;
      }
    }
  });
  return best;
}
