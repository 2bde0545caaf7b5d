//! Points and segments in plan, feet: only what the roof needs.

use crate::sorted::Sorted;

/// A point or a vector in plan.
pub(super) type Flat = [f64; 2];

pub(super) fn sub(a: Flat, b: Flat) -> Flat {
    [a[0] - b[0], a[1] - b[1]]
}

/// `a` and `share` times `b`.
pub(super) fn along(a: Flat, b: Flat, share: f64) -> Flat {
    [a[0] + b[0] * share, a[1] + b[1] * share]
}

pub(super) fn dot(a: Flat, b: Flat) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

/// Positive where `b` turns left of `a`.
pub(super) fn cross(a: Flat, b: Flat) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

/// A quarter turn to the left.
pub(super) fn left(a: Flat) -> Flat {
    [-a[1], a[0]]
}

pub(super) fn length(a: Flat) -> f64 {
    dot(a, a).sqrt()
}

pub(super) fn distance(a: Flat, b: Flat) -> f64 {
    length(sub(a, b))
}

/// The area a closed line runs round, positive where it runs counter-clockwise.
pub(super) fn area(points: &[Flat]) -> f64 {
    let Some(&origin) = points.first() else {
        return 0.0;
    };
    let twice: f64 = sides(points)
        .map(|(a, b)| cross(sub(a, origin), sub(b, origin)))
        .sum();
    twice / 2.0
}

/// The sides of a closed line, from each point to the next.
pub(super) fn sides(points: &[Flat]) -> impl Iterator<Item = (Flat, Flat)> + '_ {
    let next = points.iter().cycle().skip(1);
    points.iter().copied().zip(next.copied())
}

/// Distance from a point to a segment.
pub(super) fn to_segment(point: Flat, from: Flat, to: Flat) -> f64 {
    let run = sub(to, from);
    let square = dot(run, run);
    if square <= 0.0 {
        return distance(point, from);
    }
    let share = (dot(sub(point, from), run) / square).clamp(0.0, 1.0);
    distance(point, along(from, run, share))
}

/// Whether two segments cross or come within `near` of each other.
fn segments_meet(a: (Flat, Flat), b: (Flat, Flat), near: f64) -> bool {
    let side = |of: (Flat, Flat), point| cross(sub(of.1, of.0), sub(point, of.0));
    let apart = |of, other: (Flat, Flat)| side(of, other.0) * side(of, other.1) < 0.0;
    (apart(a, b) && apart(b, a))
        || to_segment(a.0, b.0, b.1) <= near
        || to_segment(a.1, b.0, b.1) <= near
        || to_segment(b.0, a.0, a.1) <= near
        || to_segment(b.1, a.0, a.1) <= near
}

/// The first two sides of a closed line that cross, come within `near` of each other, or, where
/// they follow one another, fold back.
pub(super) fn crossing(points: &[Flat], near: f64) -> Option<(usize, usize)> {
    let all: Vec<(Flat, Flat)> = sides(points).collect();
    let count = all.len();
    for i in 0..count {
        for j in i + 1..count {
            let meet = if j == i + 1 {
                folds(all[i], all[j])
            } else if i == 0 && j + 1 == count {
                folds(all[j], all[i])
            } else {
                segments_meet(all[i], all[j], near)
            };
            if meet {
                return Some((i, j));
            }
        }
    }
    None
}

fn folds(first: (Flat, Flat), then: (Flat, Flat)) -> bool {
    let (a, b) = (sub(first.1, first.0), sub(then.1, then.0));
    let size = length(a) * length(b);
    dot(a, b) < 0.0 && cross(a, b).abs() <= 1e-9 * size
}

/// A direction's place on the way round from +x, counter-clockwise, 0 to 4: orders as the angle
/// does, without a function whose last digit depends on the machine.
pub(super) fn turn(direction: Flat) -> f64 {
    let size = direction[0].abs() + direction[1].abs();
    if size <= 0.0 {
        return 0.0;
    }
    let share = direction[0] / size;
    if direction[1] >= 0.0 {
        1.0 - share
    } else {
        3.0 + share
    }
}

/// Joins lines that come in at a point to lines that go out from it, each with the area on its
/// left: a line out is joined to the line in that comes first counter-clockwise of it. `out` and
/// `into` hold the directions of travel; the answer holds, for each line in, its line out.
/// `None` where the lines do not take turns.
pub(super) fn join(out: &[Flat], into: &[Flat]) -> Option<Vec<usize>> {
    if out.len() != into.len() {
        return None;
    }
    if out.len() == 1 {
        return Some(vec![0]);
    }
    let outs = out.iter().enumerate().map(|(i, d)| (turn(*d), 0, i));
    let back = into.iter().map(|d| [-d[0], -d[1]]);
    let ins = back.enumerate().map(|(i, d)| (turn(d), 1, i));
    let mut rays: Vec<(f64, u8, usize)> = outs.chain(ins).collect();
    rays.order_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut joined = vec![0; into.len()];
    for (at, &(_, way, out)) in rays.iter().enumerate() {
        let &(_, next_way, into) = rays.get((at + 1) % rays.len())?;
        if way == next_way {
            return None;
        }
        if way == 0 {
            joined[into] = out;
        }
    }
    Some(joined)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turns_order_as_angles_do() {
        let mut last = -1.0;
        for degrees in 0..360 {
            let angle = f64::from(degrees).to_radians();
            let now = turn([angle.cos(), angle.sin()]);
            assert!(now > last, "{degrees}");
            last = now;
        }
    }

    #[test]
    fn crossings_touches_and_folds_are_seen() {
        let square = [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
        assert_eq!(crossing(&square, 1e-6), None);
        assert_eq!(area(&square), 16.0);
        let bow_tie = [[0.0, 0.0], [4.0, 4.0], [4.0, 0.0], [0.0, 4.0]];
        assert_eq!(crossing(&bow_tie, 1e-6), Some((0, 2)));
        let touch = [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [2.0, 0.0], [0.0, 4.0]];
        assert_eq!(crossing(&touch, 1e-6), Some((0, 2)));
        let fold = [[0.0, 0.0], [4.0, 0.0], [2.0, 0.0], [2.0, 4.0]];
        assert_eq!(crossing(&fold, 1e-6), Some((0, 1)));
    }

    #[test]
    fn a_pinched_point_is_parted_into_its_corners() {
        // Two squares that touch at the origin, each walked with its inside on the left.
        let out = [[1.0, 0.0], [-1.0, 0.0]];
        let into = [[0.0, -1.0], [0.0, 1.0]];
        assert_eq!(join(&out, &into), Some(vec![0, 1]));
        assert_eq!(
            join(&[[1.0, 0.0], [0.0, 1.0]], &[[-1.0, 0.0], [-1.0, 0.0]]),
            None
        );
    }
}
