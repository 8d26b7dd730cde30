//! Sorting and collecting, made once for all types. Of the standard library's sort a copy of some 4 KB is made for each type
//! that is sorted, and for each map or set that is collected, since that sorts first: half a megabyte of what a phone
//! loads. Lists of the record are short, and what this costs beside a sort of their own does not show.

use std::cmp::Ordering;

/// Sorts a list; what is equal keeps its order.
pub(crate) trait InOrder<T> {
    /// As `sort_by`.
    fn order_by(&mut self, compare: impl Fn(&T, &T) -> Ordering);

    /// As `sort_by_key`.
    fn order_by_key<K: Ord>(&mut self, key: impl Fn(&T) -> K) {
        self.order_by(|a, b| key(a).cmp(&key(b)));
    }
}

impl<T> InOrder<T> for [T] {
    fn order_by(&mut self, compare: impl Fn(&T, &T) -> Ordering) {
        let places = in_order(self.len(), &|a, b| match (self.get(a), self.get(b)) {
            (Some(a), Some(b)) => compare(a, b),
            _ => Ordering::Equal,
        });
        put(places, &mut |a, b| self.swap(a, b));
    }
}

/// Which of so many things comes first, which next.
fn in_order(count: usize, compare: &dyn Fn(usize, usize) -> Ordering) -> Vec<usize> {
    let mut places: Vec<usize> = (0..count).collect();
    places.sort_by(|a, b| compare(*a, *b));
    places
}

/// Swaps until at each place there is what `from` says. One round after the other is gone through, so each thing is moved
/// once.
fn put(mut from: Vec<usize>, swap: &mut dyn FnMut(usize, usize)) {
    for start in 0..from.len() {
        let mut here = start;
        // A place that has what belongs there names itself.
        while let Some(next) = from.get_mut(here).map(|next| std::mem::replace(next, here))
            && next != start
            && next != here
        {
            swap(here, next);
            here = next;
        }
    }
}

/// Collects by putting in one after the other.
pub(crate) trait Gather: Iterator + Sized {
    /// As `collect`, for a map or a set.
    fn gather<C: Default + Extend<Self::Item>>(self) -> C {
        let mut gathered = C::default();
        gathered.extend(self);
        gathered
    }
}

impl<I: Iterator> Gather for I {}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn sorts_as_the_standard_library_does(list in prop::collection::vec((0_u8..8, any::<u16>()), 0..40)) {
            let (mut ours, mut theirs) = (list.clone(), list.clone());
            ours.order_by_key(|(key, _)| *key);
            theirs.sort_by_key(|(key, _)| *key);
            prop_assert_eq!(&ours, &theirs);
            ours.order_by(|a, b| b.cmp(a));
            theirs.sort_by(|a, b| b.cmp(a));
            prop_assert_eq!(&ours, &theirs);
        }

        #[test]
        fn collects_as_the_standard_library_does(list in prop::collection::vec((0_u8..8, any::<u16>()), 0..40)) {
            let ours: BTreeMap<u8, u16> = list.iter().copied().gather();
            prop_assert_eq!(ours, list.into_iter().collect::<BTreeMap<u8, u16>>());
        }
    }
}
