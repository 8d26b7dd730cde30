//! How long a whole four-bowl plan takes: bowls, step-up, weighing, on-head strength and two rule sets.
#![allow(missing_docs, clippy::unwrap_used)]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use tailcomb_trade::bowls::{BowlRules, Pace};
use tailcomb_trade::limits::{eu, house};
use tailcomb_trade::mix::{ProductKind, ProductPart, Share};
use tailcomb_trade::plan::{ServiceRequest, ShelfDeveloper, plan_service};
use tailcomb_trade::stepup::StepUp;
use tailcomb_trade::{Grams, Millis, Percent};

fn pct(text: &str) -> Percent {
    text.parse().unwrap()
}

fn part(name: &str, kind: ProductKind, parts: u16, takes_developer: bool) -> ProductPart {
    ProductPart { name: name.to_owned(), kind, share: Share::parts(parts), takes_developer }
}

fn four_bowls() -> ServiceRequest {
    let shelf = [("mild", "3"), ("middle", "6"), ("strong", "9"), ("strongest", "12")];
    ServiceRequest {
        products: vec![
            part("clay lightener", ProductKind::Lightener, 20, true),
            part("powder lightener", ProductKind::Lightener, 10, true),
            part("bond additive", ProductKind::Additive, 3, false),
        ],
        ratio: "1:1.5".parse().unwrap(),
        developers: shelf
            .map(|(name, strength)| ShelfDeveloper { name: name.to_owned(), strength: pct(strength) })
            .to_vec(),
        step_up: StepUp { first: pct("3"), last: pct("9"), cap: pct("9") },
        sections: 18,
        pace: Pace { grams_per_section: Grams::whole(6), time_per_section: Millis::minutes(4) },
        bowl_rules: BowlRules {
            working_life: Millis::minutes(20),
            biggest_bowl: Grams::whole(90),
            clinging: Grams::whole(2),
        },
        rules: vec![eu(), house(pct("6"), "2026-01-05")],
    }
}

fn plan(c: &mut Criterion) {
    let request = four_bowls();
    let bowls = plan_service(&request).unwrap().bowls.len();
    assert_eq!(bowls, 4, "the request must give four bowls for the figure to mean what its name says");
    c.bench_function("four-bowl plan", |b| b.iter(|| plan_service(black_box(&request)).unwrap()));
}

criterion_group!(benches, plan);
criterion_main!(benches);
