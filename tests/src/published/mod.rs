//! Values that this project did not make up, each with its source, held against what the code computes.
//!
//! One table for a reader who wants to know what the arithmetic rests on: `checks` prints it, and the test here fails on
//! any row that does not hold. A row names how its value was learnt; "memory" and "common practice" are no publication
//! and say so. A new topic is a file with a `checks()` and one line in [`all`].

mod alert;
mod blending;
mod bowls;
mod crypto;
mod hair;
mod law;
mod strength;
mod time;
mod touch;

use serde::Serialize;
pub use tailcomb_trade::limits::Status;

/// One published value and what the code makes of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Check {
    /// Topic and case, unique: "strength.exact.20".
    pub id: String,
    /// What is checked, in a few words.
    pub about: String,
    /// Who published it.
    pub source: &'static str,
    /// How it was learnt.
    pub status: Status,
    /// The published value.
    pub expected: String,
    /// What the code computes; the refusal when it refused.
    pub computed: String,
    /// True when the two agree.
    pub holds: bool,
}

/// Every check there is, topic by topic.
pub fn all() -> Vec<Check> {
    [
        strength::checks(),
        blending::checks(),
        bowls::checks(),
        hair::checks(),
        law::checks(),
        alert::checks(),
        time::checks(),
        touch::checks(),
        crypto::checks(),
    ]
    .concat()
}

/// Who published a value, and how it was learnt.
#[derive(Debug, Clone, Copy)]
struct Source {
    text: &'static str,
    status: Status,
}

impl Source {
    const fn new(text: &'static str, status: Status) -> Self {
        Self { text, status }
    }

    /// The computed value, written out, must be the expected one to the letter.
    fn same(
        self,
        id: impl Into<String>,
        about: impl Into<String>,
        expected: impl Into<String>,
        computed: Result<impl ToString, impl ToString>,
    ) -> Check {
        let expected = expected.into();
        let computed = computed.map_or_else(|refusal| refusal.to_string(), |value| value.to_string());
        let holds = expected == computed;
        self.check(id, about, expected, computed, holds)
    }

    /// The computed value, rounded to the decimals that the source gives, must be the expected one.
    ///
    /// `unit` is in the unit of `expected`: 60703 at a `unit` of 10000 is 6.0703.
    fn rounded(
        self,
        id: impl Into<String>,
        about: impl Into<String>,
        expected: &str,
        computed: Result<(u64, u64), impl ToString>,
    ) -> Check {
        match computed {
            Ok((value, unit)) => {
                let decimals = expected.split_once('.').map_or(0, |(_, d)| d.len());
                let scale = 10_u128.pow(u32::try_from(decimals).unwrap_or(0));
                // Halves up, in whole numbers: a float could tip a half either way.
                let steps =
                    (2 * u128::from(value) * scale + u128::from(unit)) / (2 * u128::from(unit).max(1));
                let shown = if decimals == 0 {
                    steps.to_string()
                } else {
                    format!("{}.{:0decimals$}", steps / scale, steps % scale)
                };
                let holds = shown == expected;
                self.check(id, about, expected, shown, holds)
            }
            Err(refusal) => self.check(id, about, expected, refusal.to_string(), false),
        }
    }

    fn check(
        self,
        id: impl Into<String>,
        about: impl Into<String>,
        expected: impl Into<String>,
        computed: impl Into<String>,
        holds: bool,
    ) -> Check {
        Check {
            id: id.into(),
            about: about.into(),
            source: self.text,
            status: self.status,
            expected: expected.into(),
            computed: computed.into(),
            holds,
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use super::*;

    #[test]
    fn every_published_value_holds() {
        let failed: Vec<_> = all().into_iter().filter(|c| !c.holds).collect();
        assert!(failed.is_empty(), "{failed:#?}");
    }

    #[test]
    fn every_row_has_its_own_name_a_source_and_a_value() {
        let checks = all();
        assert!(checks.len() >= 120, "{} rows", checks.len());
        let names: HashSet<_> = checks.iter().map(|c| c.id.as_str()).collect();
        assert_eq!(names.len(), checks.len());
        for check in &checks {
            assert!(
                !check.source.is_empty() && !check.expected.is_empty() && !check.about.is_empty(),
                "{check:?}"
            );
        }
        for topic in [
            "strength.",
            "blend.",
            "bowl.",
            "growth.",
            "hair.",
            "law.",
            "alert.",
            "time.",
            "touch.",
            "crypto.",
        ] {
            assert!(names.iter().filter(|n| n.starts_with(topic)).count() >= 4, "{topic}");
        }
    }

    #[test]
    fn a_wrong_value_does_not_hold() {
        let source = Source::new("nobody", Status::Memory);
        let ok = |value: &str| Ok::<_, String>(value.to_owned());
        assert!(source.same("a", "a", "6 %", ok("6 %")).holds);
        assert!(!source.same("a", "a", "6 %", ok("6.1 %")).holds);
        assert!(!source.same("a", "a", "6 %", Err::<String, _>("refused".to_owned())).holds);
        let near =
            |expected: &str, value: u64| source.rounded("a", "a", expected, Ok::<_, String>((value, 10_000)));
        assert!(near("6.07", 60_703).holds && near("6.0703", 60_703).holds && near("6", 60_703).holds);
        assert!(!near("6.08", 60_703).holds && !near("6.0704", 60_703).holds && !near("7", 60_703).holds);
        assert!(!source.rounded("a", "a", "6", Err::<(u64, u64), _>("refused")).holds);
    }
}
