//! `tailcomb demo`: a salon day to watch, played through the same commands that people use.
