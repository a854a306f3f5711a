//! A job: one vehicle, one complaint, from intake to proven repair.
//!
//! The append-only list of [`Event`]s is the truth ([`event`]); everything else is derived from it ([`state`]) and it is
//! kept in a plain file ([`store`]). Nothing here knows equations, clocks or networks: the caller gives ids and times.

pub mod deed;
pub mod event;
pub mod folder;
pub mod intake;
pub mod learnt;
pub mod library;
pub mod logged;
pub mod overview;
pub mod photos;
pub mod standing;
pub mod state;
pub mod store;

pub use deed::{Act, Did, parse_did};
pub use event::{About, Event, What};
pub use folder::Folder;
pub use overview::{Overview, Search};
pub use standing::{Awaited, Standing};
pub use state::{Entry, Photo, Remark, Said, State, Steps, Trouble, derive, steps};
pub use store::{Store, StoreError};
