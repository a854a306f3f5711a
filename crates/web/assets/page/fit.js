// How a picture fits into its frame.

/** The part of the picture that shows: x, y and width in the picture's pixels, for a frame of this shape. */
export function fitted(picture, frame) {
  const width = Math.max(picture.width, (picture.height * frame.width) / frame.height);
  return { x: (picture.width - width) / 2, y: 0, width };
}
