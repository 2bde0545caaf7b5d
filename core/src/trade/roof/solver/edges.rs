//! What each line that the shrinking outline left behind is on a roof.

use crate::sorted::Sorted;

use std::collections::BTreeMap;

use super::super::geometry::{cross, dot, length, sub};
use super::super::solved::{EdgeKind, RoofEdge, Spot};
use super::planes::Beside;
use super::{Arc, Fold, Growth};

/// Outside corners between slopes whose eaves turn away from each other by more than this count
/// as ridges: the cosine of 135 degrees between the directions they fall in. Common practice calls
/// the line at the top a ridge even where it is not quite level; the angle has no source.
const RIDGE_COSINE: f64 = -std::f64::consts::FRAC_1_SQRT_2;

/// The edges, and the nodes that an edge passes straight through.
pub(super) struct Found {
    pub(super) edges: Vec<RoofEdge>,
    pub(super) passed: Vec<usize>,
}

/// An edge by its nodes.
#[derive(Clone)]
struct Run {
    kind: EdgeKind,
    from: usize,
    to: usize,
    planes: Vec<usize>,
}

pub(super) fn edges(growth: &Growth<'_>, beside: &Beside) -> Found {
    let sides = growth.outline.lines.len();
    let mut runs: Vec<Run> = Vec::with_capacity(sides + growth.arcs.len());
    for side in 0..sides {
        if let Some(plane) = beside.eave(side) {
            runs.push(Run {
                kind: EdgeKind::Eave,
                from: side,
                to: (side + 1) % sides,
                planes: vec![plane],
            });
        }
    }
    for (at, arc) in growth.arcs.iter().enumerate() {
        let (left, right) = beside.arc(at);
        if let Some(kind) = kind(growth, arc, left.is_some(), right.is_some()) {
            let mut planes: Vec<usize> = left.into_iter().chain(right).collect();
            planes.order();
            let (from, to) = (arc.from, arc.to);
            runs.push(Run {
                kind,
                from,
                to,
                planes,
            });
        }
    }
    runs.retain(|run| plan_length(growth, run) > growth.near);
    let passed = join_straight(growth, &mut runs);
    let mut edges: Vec<RoofEdge> = runs.iter().map(|run| edge(growth, run)).collect();
    edges.order_by(|a, b| {
        let places = |edge: &RoofEdge| edge.from.into_iter().chain(edge.to).collect::<Vec<_>>();
        let by_place = |a: &RoofEdge, b: &RoofEdge| {
            let pairs = places(a).into_iter().zip(places(b));
            pairs.fold(std::cmp::Ordering::Equal, |order, (a, b)| {
                order.then(a.total_cmp(&b))
            })
        };
        let by_name = a.kind.cmp(&b.kind).then_with(|| a.planes.cmp(&b.planes));
        by_name.then_with(|| by_place(a, b))
    });
    Found { edges, passed }
}

/// What an arc is, given on which sides of it a plane lies.
fn kind(growth: &Growth<'_>, arc: &Arc, left: bool, right: bool) -> Option<EdgeKind> {
    let outline = growth.outline;
    Some(match (left && right, left || right, arc.fold) {
        (true, _, Fold::Level) => EdgeKind::Ridge,
        (true, _, Fold::In) => EdgeKind::Valley,
        (true, _, Fold::Out) => {
            let line = |line: usize| growth.lines[growth.root(line)].along;
            let turn = dot(line(arc.left), line(arc.right));
            let from_corner = arc.from < outline.lines.len();
            if turn < RIDGE_COSINE && !from_corner {
                EdgeKind::Ridge
            } else {
                EdgeKind::Hip
            }
        }
        (false, true, Fold::Out) => EdgeKind::Rake,
        (false, true, Fold::In) => EdgeKind::Wall,
        (false, true, Fold::Level) => EdgeKind::Top,
        (false, false, _) => return None,
    })
}

fn plan_length(growth: &Growth<'_>, run: &Run) -> f64 {
    let (from, to) = (growth.nodes[run.from], growth.nodes[run.to]);
    length(flat(from, to))
}

fn flat(from: Spot, to: Spot) -> [f64; 2] {
    sub([to[0], to[1]], [from[0], from[1]])
}

/// Joins edges of one kind between the same planes that go straight on where nothing else meets.
fn join_straight(growth: &Growth<'_>, runs: &mut Vec<Run>) -> Vec<usize> {
    let mut at_node: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (at, run) in runs.iter().enumerate() {
        at_node.entry(run.from).or_default().push(at);
        at_node.entry(run.to).or_default().push(at);
    }
    let mut stands: Vec<usize> = (0..runs.len()).collect();
    let mut passed = Vec::new();
    for (node, meeting) in at_node {
        let &[a, b] = meeting.as_slice() else {
            continue;
        };
        let (a, b) = (stand(&stands, a), stand(&stands, b));
        if node < growth.outline.lines.len() || a == b {
            continue;
        }
        let end = |run: &Run| if run.from == node { run.to } else { run.from };
        let (far_a, far_b) = (end(&runs[a]), end(&runs[b]));
        let (one, other) = (
            flat(growth.nodes[far_a], growth.nodes[node]),
            flat(growth.nodes[node], growth.nodes[far_b]),
        );
        let bend = cross(one, other).abs() / length(one).max(length(other));
        let straight = bend <= 8.0 * growth.near && dot(one, other) > 0.0;
        let alike = runs[a].kind == runs[b].kind && runs[a].planes == runs[b].planes;
        if straight && alike {
            runs[a].from = far_a;
            runs[a].to = far_b;
            stands[b] = a;
            passed.push(node);
        }
    }
    let mut at = 0;
    runs.retain(|_| {
        at += 1;
        stands[at - 1] == at - 1
    });
    passed
}

fn stand(stands: &[usize], run: usize) -> usize {
    let mut run = run;
    while stands[run] != run {
        run = stands[run];
    }
    run
}

fn edge(growth: &Growth<'_>, run: &Run) -> RoofEdge {
    let (mut from, mut to) = (growth.nodes[run.from], growth.nodes[run.to]);
    if from[2] > to[2] {
        std::mem::swap(&mut from, &mut to);
    }
    let plan_length = length(flat(from, to));
    RoofEdge {
        kind: run.kind,
        from,
        to,
        plan_length,
        length: plan_length.hypot(to[2] - from[2]),
        planes: run.planes.clone(),
    }
}
