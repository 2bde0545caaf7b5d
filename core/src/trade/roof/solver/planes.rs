//! Walks what the shrinking outline left behind into planes.

use crate::sorted::Sorted;

use std::collections::BTreeMap;

use super::super::EdgeKind;
use super::super::geometry::{Flat, area, join, sub};
use super::super::outline::Line;
use super::super::solved::{EdgeTotal, Roof, RoofPlane, Spot};
use super::wave::Trouble;
use super::{Growth, check, edges};

/// A border of a plane, walked with the plane on its left.
#[derive(Clone, Copy)]
struct Border {
    from: usize,
    to: usize,
    /// The side of the outline, or the arc and which side of it.
    of: Source,
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Source {
    Eave(usize),
    Left(usize),
    Right(usize),
}

/// A closed walk round one plane.
struct Walk {
    line: usize,
    nodes: Vec<usize>,
    eaves: Vec<usize>,
}

/// Which plane lies beside what.
#[derive(Default)]
pub(super) struct Beside {
    eaves: BTreeMap<usize, usize>,
    left: BTreeMap<usize, usize>,
    right: BTreeMap<usize, usize>,
}

impl Beside {
    pub(super) fn eave(&self, side: usize) -> Option<usize> {
        self.eaves.get(&side).copied()
    }

    pub(super) fn arc(&self, arc: usize) -> (Option<usize>, Option<usize>) {
        let (left, right) = (self.left.get(&arc), self.right.get(&arc));
        (left.copied(), right.copied())
    }
}

pub(super) fn roof(growth: &Growth<'_>) -> Result<Roof, Trouble> {
    let mut walks = walks(growth)?;
    walks.order_by_key(|(walk, _)| {
        (
            walk.first_side(growth),
            walk.line,
            walk.nodes.first().copied(),
        )
    });
    let mut beside = Beside::default();
    for (plane, (_, borders)) in walks.iter().enumerate() {
        for border in borders {
            match border.of {
                Source::Eave(side) => beside.eaves.insert(side, plane),
                Source::Left(arc) => beside.left.insert(arc, plane),
                Source::Right(arc) => beside.right.insert(arc, plane),
            };
        }
    }
    let found = edges::edges(growth, &beside);
    let planes: Vec<RoofPlane> = walks
        .iter()
        .map(|(walk, _)| walk.plane(growth, &found.passed))
        .collect();
    check::planes_fill_the_outline(growth, &planes)?;
    let origin = growth.outline.origin;
    let corners = growth.outline.corners.iter();
    let moved = |spot: &Spot| [spot[0] + origin[0], spot[1] + origin[1], spot[2]];
    let planes: Vec<RoofPlane> = planes
        .into_iter()
        .map(|plane| RoofPlane {
            corners: plane.corners.iter().map(moved).collect(),
            ..plane
        })
        .collect();
    let mut edges = found.edges;
    for edge in &mut edges {
        edge.from = moved(&edge.from);
        edge.to = moved(&edge.to);
    }
    let spots = planes.iter().flat_map(|plane| &plane.corners);
    Ok(Roof {
        outline: corners
            .map(|at| [at[0] + origin[0], at[1] + origin[1]])
            .collect(),
        walls: growth.outline.walls.clone(),
        north: growth.outline.north,
        totals: EdgeKind::ALL.map(|kind| total(kind, &edges)).to_vec(),
        plan_area: planes.iter().map(|plane| plane.plan_area).sum(),
        area: planes.iter().map(|plane| plane.area).sum(),
        height: spots.fold(0.0, |height: f64, spot| height.max(spot[2])),
        planes,
        edges,
    })
}

fn total(kind: EdgeKind, edges: &[super::super::RoofEdge]) -> EdgeTotal {
    let of_kind = edges.iter().filter(|edge| edge.kind == kind);
    EdgeTotal {
        kind,
        count: of_kind.clone().count(),
        plan_length: of_kind
            .clone()
            .fold(0.0, |sum, edge| sum + edge.plan_length),
        length: of_kind.fold(0.0, |sum, edge| sum + edge.length),
    }
}

/// The borders of every plane, walked round.
fn walks(growth: &Growth<'_>) -> Result<Vec<(Walk, Vec<Border>)>, Trouble> {
    let mut borders: BTreeMap<usize, Vec<Border>> = BTreeMap::new();
    let sides = growth.outline.lines.len();
    let mut add = |line: usize, from: usize, to: usize, of: Source| {
        if !growth.lines[line].is_gable() {
            let border = Border { from, to, of };
            borders.entry(line).or_default().push(border);
        }
    };
    for side in 0..sides {
        add(
            growth.root(side),
            side,
            (side + 1) % sides,
            Source::Eave(side),
        );
    }
    for (at, arc) in growth.arcs.iter().enumerate() {
        let (left, right) = (growth.root(arc.left), growth.root(arc.right));
        if left != right && arc.from != arc.to {
            add(left, arc.from, arc.to, Source::Left(at));
            add(right, arc.to, arc.from, Source::Right(at));
        }
    }
    let mut walks = Vec::new();
    for (line, borders) in borders {
        walk_round(growth, line, &borders, &mut walks)?;
    }
    Ok(walks)
}

fn walk_round(
    growth: &Growth<'_>,
    line: usize,
    borders: &[Border],
    walks: &mut Vec<(Walk, Vec<Border>)>,
) -> Result<(), Trouble> {
    let mut at_node: BTreeMap<usize, (Vec<usize>, Vec<usize>)> = BTreeMap::new();
    for (at, border) in borders.iter().enumerate() {
        at_node.entry(border.from).or_default().0.push(at);
        at_node.entry(border.to).or_default().1.push(at);
    }
    let place = |node: usize| -> Flat { [growth.nodes[node][0], growth.nodes[node][1]] };
    let direction = |at: &usize| sub(place(borders[*at].to), place(borders[*at].from));
    let mut next = vec![0; borders.len()];
    for (out, into) in at_node.values() {
        let rays_out: Vec<Flat> = out.iter().map(direction).collect();
        let rays_in: Vec<Flat> = into.iter().map(direction).collect();
        let joined = join(&rays_out, &rays_in).ok_or(Trouble::Lost)?;
        for (border, then) in into.iter().zip(joined) {
            next[*border] = out[then];
        }
    }
    let mut seen = vec![false; borders.len()];
    for start in 0..borders.len() {
        let mut round = Vec::new();
        let mut at = start;
        while !seen[at] {
            seen[at] = true;
            round.push(borders[at]);
            at = next[at];
        }
        if !round.is_empty() {
            let eaves = round.iter().filter_map(|border| match border.of {
                Source::Eave(side) => Some(side),
                _ => None,
            });
            let walk = Walk {
                line,
                nodes: round.iter().map(|border| border.from).collect(),
                eaves: eaves.collect(),
            };
            walks.push((walk, round));
        }
    }
    Ok(())
}

impl Walk {
    fn sides(&self, growth: &Growth<'_>) -> Vec<usize> {
        let lines = &growth.outline.lines;
        let of = |line: &usize| lines[*line].sides.iter().copied();
        let mut sides: Vec<usize> = self.eaves.iter().flat_map(of).collect();
        if sides.is_empty() {
            sides = of(&self.line).collect();
        }
        sides.order();
        sides
    }

    fn first_side(&self, growth: &Growth<'_>) -> usize {
        self.sides(growth).first().copied().unwrap_or_default()
    }

    /// The plane, less the nodes that edges pass straight through.
    fn plane(&self, growth: &Growth<'_>, passed: &[usize]) -> RoofPlane {
        let line = &growth.outline.lines[self.line];
        let kept = self.nodes.iter().filter(|node| !passed.contains(node));
        let mut corners: Vec<Spot> = Vec::with_capacity(self.nodes.len());
        for spot in kept.map(|node| growth.nodes[*node]) {
            if corners
                .last()
                .is_none_or(|last| !same(last, &spot, growth.near))
            {
                corners.push(spot);
            }
        }
        if let [first, .., last] = corners[..]
            && same(&first, &last, growth.near)
        {
            corners.pop();
        }
        let flat: Vec<Flat> = corners.iter().map(|spot| [spot[0], spot[1]]).collect();
        let plan_area = area(&flat);
        RoofPlane {
            sides: self.sides(growth),
            corners,
            pitch: line.rise,
            facing: facing(line, growth.outline.north),
            plan_area,
            area: plan_area * (1.0 + (line.rise / 12.0).powi(2)).sqrt(),
        }
    }
}

fn same(a: &Spot, b: &Spot, near: f64) -> bool {
    a.iter().zip(b).all(|(a, b)| (a - b).abs() <= near)
}

/// The bearing a plane falls toward, to a billionth of a degree so that it is the same on every
/// machine.
fn facing(line: &Line, north: f64) -> f64 {
    let out = [-line.inward[0], -line.inward[1]];
    let bearing = out[0].atan2(out[1]).to_degrees() + north;
    let bearing = (bearing.rem_euclid(360.0) * 1e9).round() / 1e9;
    if bearing >= 360.0 { 0.0 } else { bearing }
}
