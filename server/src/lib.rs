//! Tailcomb.
