//! Sorting, and collections in order, with little code for each type.
//!
//! The standard library makes its sort anew for every type, 4 KB each time, and sorts as well where
//! it collects into a tree. A phone's library would be half a megabyte larger by it. Here one sort
//! of places serves every type.

use std::cmp::Ordering;

/// Sorts a slice; what is equal keeps its order.
pub(crate) trait Sorted<T> {
    /// In the order that `compare` says.
    fn order_by(&mut self, compare: impl Fn(&T, &T) -> Ordering);
    /// By a key.
    fn order_by_key<K: Ord>(&mut self, key: impl Fn(&T) -> K);
    /// In the order of the values.
    fn order(&mut self)
    where
        T: Ord;
}

impl<T> Sorted<T> for [T] {
    fn order_by(&mut self, compare: impl Fn(&T, &T) -> Ordering) {
        let places = places(self.len(), &|a, b| match (self.get(a), self.get(b)) {
            (Some(a), Some(b)) => compare(a, b),
            _ => Ordering::Equal,
        });
        carry(places, &mut |a, b| self.swap(a, b));
    }

    fn order_by_key<K: Ord>(&mut self, key: impl Fn(&T) -> K) {
        self.order_by(|a, b| key(a).cmp(&key(b)));
    }

    fn order(&mut self)
    where
        T: Ord,
    {
        self.order_by(T::cmp);
    }
}

/// Collects into a map or a set one by one, without sorting first.
pub(crate) trait Keyed: Iterator + Sized {
    /// The collection of all items; of two with one key the later counts.
    fn keyed<C: Default + Extend<Self::Item>>(self) -> C {
        let mut all = C::default();
        all.extend(self);
        all
    }
}

impl<I: Iterator> Keyed for I {}

/// Which item comes at each place.
fn places(count: usize, compare: &dyn Fn(usize, usize) -> Ordering) -> Vec<usize> {
    let mut places: Vec<usize> = (0..count).collect();
    places.sort_by(|a, b| compare(*a, *b));
    places
}

/// Swaps until every item is at its place.
fn carry(mut places: Vec<usize>, swap: &mut dyn FnMut(usize, usize)) {
    for start in 0..places.len() {
        let mut at = start;
        // Each item is at its place after one swap, so all rounds together are as many as items.
        while let Some(place) = places.get_mut(at) {
            let from = std::mem::replace(place, at);
            if from == start || from == at {
                break;
            }
            swap(at, from);
            at = from;
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn it_sorts_as_the_standard_library_does(
            items in prop::collection::vec((0u8..20, any::<u16>()), 0..200)
        ) {
            let mut ours = items.clone();
            ours.order_by_key(|item| item.0);
            let mut theirs = items.clone();
            theirs.sort_by_key(|item| item.0);
            prop_assert_eq!(&ours, &theirs, "by a key, stable");
            ours.order();
            theirs.sort();
            prop_assert_eq!(&ours, &theirs, "by value");
            let keyed: BTreeMap<u8, u16> = items.iter().copied().keyed();
            prop_assert_eq!(keyed, items.into_iter().collect::<BTreeMap<u8, u16>>());
        }
    }
}
