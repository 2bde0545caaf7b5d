//! The outline as it shrinks upward: where its corners are at a height, and at which height
//! something happens next.

use super::super::geometry::{Flat, along, cross, dot, sub};
use super::super::outline::{Line, Outline};

/// Lines count as parallel where the sine of their angle is below this.
pub(super) const PARALLEL: f64 = 1e-9;

/// Why the growth of a roof stopped short.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Trouble {
    /// A part of the outline never closes.
    Open,
    /// The arithmetic lost its way; another closeness may find it.
    Lost,
}

/// A corner of the shrinking outline, which moves in a straight line.
#[derive(Clone, Copy, Debug)]
pub(super) struct Corner {
    /// The node it started from.
    pub(super) born: usize,
    at: Flat,
    run: Flat,
    /// It is an inside corner of the house.
    pub(super) inside: bool,
}

impl Corner {
    /// The corner between a line and the next; `None` where they are parallel.
    pub(super) fn between(a: &Line, b: &Line, born: usize) -> Option<Self> {
        let turn = cross(a.along, b.along);
        if turn.abs() < PARALLEL {
            return None;
        }
        let solve = |a_side: f64, b_side: f64| {
            [
                (a_side * b.inward[1] - b_side * a.inward[1]) / turn,
                (a.inward[0] * b_side - b.inward[0] * a_side) / turn,
            ]
        };
        Some(Self {
            born,
            at: solve(a.offset, b.offset),
            run: solve(a.run, b.run),
            inside: turn < 0.0,
        })
    }

    /// Where it is at a height.
    pub(super) fn place(&self, z: f64) -> Flat {
        along(self.at, self.run, z)
    }
}

/// One closed part of the shrinking outline: line `i` runs from corner `i` to the next.
pub(super) struct Wave {
    pub(super) lines: Vec<usize>,
    pub(super) corners: Vec<Corner>,
    /// The height it started at.
    pub(super) z: f64,
}

impl Wave {
    pub(super) fn first(outline: &Outline) -> Option<Self> {
        let count = outline.lines.len();
        let corner = |at: usize| {
            let before = &outline.lines[(at + count - 1) % count];
            Corner::between(before, &outline.lines[at], at)
        };
        Some(Self {
            lines: (0..count).collect(),
            corners: (0..count).map(corner).collect::<Option<_>>()?,
            z: 0.0,
        })
    }

    /// The corner at which line `i` ends.
    pub(super) fn after(&self, i: usize) -> usize {
        if i + 1 == self.corners.len() {
            0
        } else {
            i + 1
        }
    }

    /// The height at which a line first vanishes or an inside corner first comes to a line.
    pub(super) fn next(&self, lines: &[Line], near: f64) -> Option<f64> {
        let spans: Vec<Span> = (0..self.lines.len()).map(|i| self.span(lines, i)).collect();
        let mut first: Option<f64> = None;
        let mut keep = |z: f64| {
            if first.is_none_or(|first| z < first) {
                first = Some(z);
            }
        };
        for span in &spans {
            if span.growth < -1e-12 {
                keep((-span.length / span.growth).max(self.z));
            }
        }
        let inside = self.corners.iter().enumerate().filter(|(_, c)| c.inside);
        for (at, corner) in inside {
            let before = if at == 0 { self.lines.len() } else { at } - 1;
            for (i, span) in spans.iter().enumerate() {
                if i != at
                    && i != before
                    && let Some(z) = span.met_by(corner, self.z, near)
                {
                    keep(z);
                }
            }
        }
        first
    }

    fn span(&self, lines: &[Line], i: usize) -> Span {
        let line = &lines[self.lines[i]];
        let (from, to) = (self.corners[i], self.corners[self.after(i)]);
        Span {
            inward: line.inward,
            offset: line.offset,
            run: line.run,
            along: line.along,
            from,
            length: dot(sub(to.at, from.at), line.along),
            growth: dot(sub(to.run, from.run), line.along),
        }
    }
}

/// A line of a wave with its length, which grows evenly with height.
struct Span {
    inward: Flat,
    offset: f64,
    run: f64,
    along: Flat,
    from: Corner,
    length: f64,
    growth: f64,
}

impl Span {
    /// The height at which a corner comes to the line, at or above `z`.
    fn met_by(&self, corner: &Corner, z: f64, near: f64) -> Option<f64> {
        let distance = dot(self.inward, corner.at) - self.offset;
        let closing = dot(self.inward, corner.run) - self.run;
        if closing > -1e-12 {
            return None;
        }
        let met = -distance / closing;
        if met < z && (met - z) * closing > near {
            return None;
        }
        let met = met.max(z);
        let beside = dot(sub(corner.place(met), self.from.place(met)), self.along);
        let length = self.length + self.growth * met;
        (beside >= -near && beside <= length + near).then_some(met)
    }
}
