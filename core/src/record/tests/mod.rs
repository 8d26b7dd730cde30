//! What salon, shelf, card, day and settling must hold true, on real documents that take in each other's changes.

mod card;
mod cards_any_order;
mod day;
mod digest;
mod index;
mod salon;
mod settle;
mod shelf;
mod trial;
