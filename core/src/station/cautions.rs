//! What is said beside a mix, a time or a test, on every screen alike. None of it vouches for anything: the maker's
//! label, local codes and a licensed stylist decide.

use crate::trade::{Term, Told, term};

/// Beside everything.
pub const LABEL: Term = term!(
    "Follow the maker's label; local codes prevail, and a licensed stylist decides. Tailcomb records and reminds."
);
/// Beside a mix.
pub const GLOVES: Term = term!("Gloves and eye protection while mixing and applying.");
/// Beside a mix with lightener.
pub const VENTILATE: Term = term!(
    "Lightener with persulfates: ventilate. They can set off asthma and skin reactions (ANSES, 12 June 2019)."
);
/// Beside what puts colour on or near the skin.
pub const TEST: Term = term!("Alert test before colouring, as local rules and the maker say.");
/// Beside product on hair.
pub const STOP: Term = term!("On burning, swelling or breathing trouble: stop, rinse, get medical help.");
/// Beside a timer.
pub const LOOK: Term =
    term!("A timer does not look at the hair: check a strand, and never pass the maker's longest time.");
/// Beside an alert test.
pub const READ: Term = term!("A test that shows nothing rules nothing out: a reaction can still come.");

/// Beside a mix.
#[must_use]
pub fn for_mix(with_lightener: bool) -> Vec<Told> {
    let mut say = vec![LABEL, GLOVES, TEST];
    if with_lightener {
        say.insert(2, VENTILATE);
    }
    say.into_iter().map(Term::told).collect()
}

/// Beside product that is on hair, and the timers that run for it.
#[must_use]
pub fn for_time() -> Vec<Told> {
    [LABEL, LOOK, STOP].map(Term::told).to_vec()
}

/// Beside an alert test.
#[must_use]
pub fn for_test() -> Vec<Told> {
    [LABEL, READ, STOP].map(Term::told).to_vec()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_place_defers_to_the_label_and_none_vouches_for_anything() {
        let all = [for_mix(true), for_mix(false), for_time(), for_test()];
        for say in &all {
            assert!(say.contains(&LABEL.told()));
            for text in say {
                assert!(!text.to_lowercase().contains("safe"), "{text}");
            }
        }
        assert!(for_mix(true).contains(&VENTILATE.told()) && !for_mix(false).contains(&VENTILATE.told()));
        assert!(for_time().contains(&STOP.told()) && for_test().contains(&STOP.told()));
    }
}
