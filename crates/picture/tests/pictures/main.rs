//! Pictures of circuits, judged from the SVG alone.

#[cfg(test)]
mod common;
#[cfg(test)]
mod maker;
mod names;
#[cfg(test)]
mod stairs_and_face;
#[cfg(test)]
mod wiring;
