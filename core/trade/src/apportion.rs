//! Largest remainder: whole steps of the scale that still add up to the total.
//!
//! Rounding each line for itself would show 33.3 + 66.6 for 100 g; the person at the scale would look for the missing
//! 0.1 g. Every split in this crate goes through here.

/// Splits `total` steps in proportion to `weights`. The result adds up to `total` and each share is less than one step
/// from its exact value. Equal remainders go to the earlier line. All weights 0 gives all 0.
///
/// `total` × the largest weight must fit in `u128`; callers keep totals under 2³² and weights under 2⁹⁰.
pub(crate) fn largest_remainder(total: u64, weights: &[u128]) -> Vec<u64> {
    let sum: u128 = weights.iter().sum();
    if sum == 0 {
        return vec![0; weights.len()];
    }
    let exact = |w: &u128| u128::from(total) * w;
    // A share is at most `total`, so the conversion cannot fail; the fallback keeps it total all the same.
    let mut shares: Vec<u64> =
        weights.iter().map(|w| u64::try_from(exact(w) / sum).unwrap_or(total)).collect();
    let given: u64 = shares.iter().sum();
    let mut order: Vec<(usize, u128)> = weights.iter().map(|w| exact(w) % sum).enumerate().collect();
    order.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    let missing = usize::try_from(total.saturating_sub(given)).unwrap_or(usize::MAX);
    for (line, _) in order.into_iter().take(missing) {
        if let Some(share) = shares.get_mut(line) {
            *share += 1;
        }
    }
    shares
}

/// `value` / `by`, rounded to the nearest whole, halves up. `by` must not be 0.
pub(crate) const fn div_nearest(value: u128, by: u128) -> u128 {
    (value + by / 2) / by
}

/// Greatest common divisor; of 0 and x it is x.
pub(crate) const fn gcd(a: u128, b: u128) -> u128 {
    let (mut a, mut b) = (a, b);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hundred_grams_at_one_to_two_still_adds_up() {
        assert_eq!(largest_remainder(1000, &[1, 2]), [333, 667]);
    }

    #[test]
    fn equal_remainders_go_to_the_earlier_line() {
        assert_eq!(largest_remainder(10, &[1, 1, 1]), [4, 3, 3]);
    }

    #[test]
    fn nothing_to_share_by_gives_nothing() {
        assert_eq!(largest_remainder(10, &[0, 0]), [0, 0]);
        assert!(largest_remainder(10, &[]).is_empty());
    }

    #[test]
    fn halves_round_up() {
        assert_eq!((div_nearest(5, 10), div_nearest(4, 10), div_nearest(15, 10)), (1, 0, 2));
    }
}
