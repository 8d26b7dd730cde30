//! What salon, shelf, card, day and settling must hold true, on real documents that take in each other's changes.

mod card;
mod cards_any_order;
mod close;
mod day;
mod digest;
mod floor;
mod house;
mod house_any_order;
mod document;
mod entries;
mod index;
mod salon;
mod settle;
mod shelf;
mod timers;
mod timers_any_order;
mod trial;
mod visits;
mod visits_any_order;
