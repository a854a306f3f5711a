//! A job is its events.
