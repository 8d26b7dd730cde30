//! What the record must hold true, on real documents that take in each other's changes.

mod approval;
mod card;
mod cards_any_order;
mod catalogue;
mod close;
mod day;
mod digest;
mod document;
mod entries;
mod floor;
mod hair;
mod house;
mod house_any_order;
mod index;
mod salon;
mod settle;
mod shelf;
mod stock;
mod stops;
mod timers;
mod timers_any_order;
mod trial;
mod visits;
mod visits_any_order;
