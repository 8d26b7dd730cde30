//! Drawings made from the record alone: the section map of a head. A pure function of a visit and an instant, so that
//! every station draws the same picture and a phone can redraw it as often as it likes.
//!
//! [`section_map`] says what is to be drawn as plain values (outlines, one path a section, its state in words);
//! [`SectionMap::svg`] writes them as one SVG. The symbols are our own. Nothing is told by colour alone: a state is a
//! pattern, a border and a word.

mod head;
mod map;
mod svg;

pub use head::{Area, HeadView, Part, Side};
pub use map::{MapSection, MapShape, MapView, SectionMap, SectionNow, section_map};

#[cfg(test)]
mod tests;
