//! Pictures of circuits, judged from the SVG alone.

#[cfg(test)]
mod common;
#[cfg(test)]
mod maker;
#[cfg(test)]
mod stairs_and_face;
#[cfg(test)]
mod wiring;
