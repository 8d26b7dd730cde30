//! The colourist's arithmetic: strengths, mixes, bowls, step-ups, as pure functions over typed units.
