//! Rows and lines that hang together because the rows cover the lines.

use crate::sorted::Sorted;

use std::collections::{BTreeMap, BTreeSet};

/// One set of rows and lines that hang together.
pub(super) struct Component {
    pub(super) rows: BTreeSet<usize>,
    pub(super) lines: BTreeSet<usize>,
    /// Every row covers every line of it, so that sums can be held side by side.
    pub(super) even: bool,
}

/// The components of rows and the lines each covers; rows that cover none are left out.
pub(super) fn components(covers: &BTreeMap<usize, BTreeSet<usize>>) -> Vec<Component> {
    let mut components: Vec<Component> = Vec::new();
    for (row, lines) in covers.iter().filter(|(_, lines)| !lines.is_empty()) {
        let mut joined = Component {
            rows: BTreeSet::from([*row]),
            lines: lines.clone(),
            even: true,
        };
        let (touching, rest): (Vec<_>, Vec<_>) = components
            .into_iter()
            .partition(|other| !other.lines.is_disjoint(lines));
        for other in touching {
            joined.rows.extend(other.rows);
            joined.lines.extend(other.lines);
        }
        components = rest;
        components.push(joined);
    }
    for component in &mut components {
        component.even = component
            .rows
            .iter()
            .all(|row| covers.get(row) == Some(&component.lines));
    }
    components.order_by(|a, b| a.rows.first().cmp(&b.rows.first()));
    components
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_touches_hangs_together() {
        let covers = BTreeMap::from([
            (0, BTreeSet::from([0, 1])),
            (1, BTreeSet::from([2])),
            (2, BTreeSet::from([0, 1])),
            (3, BTreeSet::new()),
            (4, BTreeSet::from([2, 3])),
        ]);
        let found = components(&covers);
        let shown: Vec<_> = found
            .iter()
            .map(|c| (Vec::from_iter(&c.rows), Vec::from_iter(&c.lines), c.even))
            .collect();
        assert_eq!(
            shown,
            [
                (vec![&0, &2], vec![&0, &1], true),
                (vec![&1, &4], vec![&2, &3], false)
            ]
        );
    }
}
