//! What becomes of the shrinking outline at a height where something happens.
//!
//! Everything that meets there is resolved at once: corners that come together become one node,
//! lines are parted where a node lies on them, lines that lie back to back leave a ridge, and what
//! is left is walked into closed parts again, each with the house on its left.

use crate::sorted::Sorted;

use std::collections::BTreeMap;

use super::super::geometry::{Flat, cross, distance, dot, join, left, sub};
use super::super::outline::Line;
use super::Growth;
use super::wave::{Corner, PARALLEL, Trouble, Wave};
use super::{Arc, Fold};

/// A piece of a line between two nodes.
#[derive(Clone, Copy)]
struct Piece {
    from: usize,
    to: usize,
    line: usize,
}

impl Piece {
    /// A step that has no length yet.
    fn step(at: usize, line: usize) -> Self {
        Self {
            from: at,
            to: at,
            line,
        }
    }
}

/// The nodes of one wave at one height.
struct Nodes {
    /// Places, by node.
    at: Vec<Flat>,
    /// The node of each corner.
    of: Vec<usize>,
    /// Something happens here.
    touched: Vec<bool>,
    /// The node's number in the whole roof, once it has one.
    kept: Vec<Option<usize>>,
    z: f64,
}

impl Nodes {
    fn new(places: &[Flat], z: f64, near: f64) -> Self {
        let mut nodes = Self {
            at: Vec::with_capacity(places.len()),
            of: Vec::with_capacity(places.len()),
            touched: Vec::new(),
            kept: Vec::new(),
            z,
        };
        for place in places {
            let known = nodes.at.iter().position(|at| distance(*at, *place) < near);
            if let Some(node) = known {
                nodes.touched[node] = true;
                nodes.of.push(node);
            } else {
                nodes.of.push(nodes.at.len());
                nodes.at.push(*place);
                nodes.touched.push(false);
            }
        }
        nodes.kept = vec![None; nodes.at.len()];
        nodes
    }

    fn keep(&mut self, growth: &mut Growth<'_>, node: usize) -> usize {
        let (place, z) = (self.at[node], self.z);
        *self.kept[node].get_or_insert_with(|| {
            growth.nodes.push([place[0], place[1], z]);
            growth.nodes.len() - 1
        })
    }
}

/// Resolves all that happens to a wave at a height; the waves that go on from there.
pub(super) fn meet(growth: &mut Growth<'_>, wave: &Wave, z: f64) -> Result<Vec<Wave>, Trouble> {
    let places: Vec<Flat> = wave.corners.iter().map(|c| c.place(z)).collect();
    let mut nodes = Nodes::new(&places, z, growth.near);
    let pieces = pieces(growth, wave, &mut nodes)?;
    let pieces = back_to_back(growth, pieces, &mut nodes)?;
    if !nodes.touched.contains(&true) {
        return Err(Trouble::Lost);
    }
    end_corners(growth, wave, &mut nodes);
    let next = follow(growth, &pieces, nodes.at.len())?;
    let mut seen = vec![false; pieces.len()];
    let mut waves = Vec::new();
    for start in 0..pieces.len() {
        let mut round = Vec::new();
        let mut at = start;
        while !seen[at] {
            seen[at] = true;
            round.push(pieces[at]);
            at = next[at];
        }
        if !round.is_empty() {
            waves.push(go_on(growth, wave, &round, &mut nodes)?);
        }
    }
    Ok(waves)
}

/// The lines of the wave, parted at each node that lies on them.
fn pieces(growth: &Growth<'_>, wave: &Wave, nodes: &mut Nodes) -> Result<Vec<Piece>, Trouble> {
    let mut pieces = Vec::with_capacity(wave.lines.len() + 4);
    for (i, &line) in wave.lines.iter().enumerate() {
        let (from, to) = (nodes.of[i], nodes.of[wave.after(i)]);
        if from == to {
            continue;
        }
        let along = growth.lines[line].along;
        let whole = dot(sub(nodes.at[to], nodes.at[from]), along);
        if whole < 0.0 {
            return Err(Trouble::Lost);
        }
        let mut on: Vec<(f64, usize)> = Vec::new();
        for (node, place) in nodes.at.iter().enumerate() {
            let rest = sub(*place, nodes.at[from]);
            let share = dot(rest, along);
            let beside = cross(along, rest).abs() < growth.near;
            if node != from && node != to && beside && share > 0.0 && share < whole {
                on.push((share, node));
            }
        }
        on.order_by(|a, b| a.0.total_cmp(&b.0));
        let mut from = from;
        for (_, node) in on {
            nodes.touched[node] = true;
            pieces.push(Piece {
                from,
                to: node,
                line,
            });
            from = node;
        }
        pieces.push(Piece { from, to, line });
    }
    Ok(pieces)
}

/// Takes out pieces that lie back to back, and leaves a level edge for each pair.
fn back_to_back(
    growth: &mut Growth<'_>,
    pieces: Vec<Piece>,
    nodes: &mut Nodes,
) -> Result<Vec<Piece>, Trouble> {
    let mut by_ends = BTreeMap::new();
    for piece in &pieces {
        if by_ends.insert((piece.from, piece.to), piece.line).is_some() {
            return Err(Trouble::Lost);
        }
    }
    let mut left = Vec::with_capacity(pieces.len());
    for piece in pieces {
        let Some(&other) = by_ends.get(&(piece.to, piece.from)) else {
            left.push(piece);
            continue;
        };
        if piece.from < piece.to {
            nodes.touched[piece.from] = true;
            nodes.touched[piece.to] = true;
            let arc = Arc {
                from: nodes.keep(growth, piece.from),
                to: nodes.keep(growth, piece.to),
                left: other,
                right: piece.line,
                fold: Fold::Level,
            };
            growth.arcs.push(arc);
        }
    }
    Ok(left)
}

/// Ends the corners that come to a node where something happens.
fn end_corners(growth: &mut Growth<'_>, wave: &Wave, nodes: &mut Nodes) {
    for (at, corner) in wave.corners.iter().enumerate() {
        let node = nodes.of[at];
        if !nodes.touched[node] {
            continue;
        }
        let before = if at == 0 { wave.lines.len() } else { at } - 1;
        let arc = Arc {
            from: corner.born,
            to: nodes.keep(growth, node),
            left: wave.lines[before],
            right: wave.lines[at],
            fold: if corner.inside { Fold::In } else { Fold::Out },
        };
        growth.arcs.push(arc);
    }
}

/// The piece that follows each piece round the house.
fn follow(growth: &Growth<'_>, pieces: &[Piece], nodes: usize) -> Result<Vec<usize>, Trouble> {
    let mut out = vec![Vec::new(); nodes];
    let mut into = vec![Vec::new(); nodes];
    for (at, piece) in pieces.iter().enumerate() {
        out[piece.from].push(at);
        into[piece.to].push(at);
    }
    let direction = |at: &usize| growth.lines[pieces[*at].line].along;
    let mut next = vec![0; pieces.len()];
    for (out, into) in out.iter().zip(&into) {
        let rays_out: Vec<Flat> = out.iter().map(direction).collect();
        let rays_in: Vec<Flat> = into.iter().map(direction).collect();
        let joined = join(&rays_out, &rays_in).ok_or(Trouble::Lost)?;
        for (piece, then) in into.iter().zip(joined) {
            next[*piece] = out[then];
        }
    }
    Ok(next)
}

/// A closed walk of pieces as a wave, with new corners where something happened.
fn go_on(
    growth: &mut Growth<'_>,
    wave: &Wave,
    round: &[Piece],
    nodes: &mut Nodes,
) -> Result<Wave, Trouble> {
    let mut sides: Vec<Piece> = Vec::with_capacity(round.len());
    for piece in round {
        match sides
            .last()
            .map(|last| growth.meeting(last.line, piece.line, nodes.at[piece.from]))
        {
            Some(Meeting::Together) => continue,
            Some(Meeting::Step(line)) => sides.push(Piece::step(piece.from, line)),
            Some(Meeting::Corner) | None => {}
        }
        sides.push(*piece);
    }
    if let [first, .., last] = sides[..] {
        match growth.meeting(last.line, first.line, nodes.at[first.from]) {
            Meeting::Together => {
                sides[0].from = last.from;
                sides.pop();
            }
            Meeting::Step(line) => sides.push(Piece::step(first.from, line)),
            Meeting::Corner => {}
        }
    }
    if sides.len() < 3 {
        return Err(Trouble::Lost);
    }
    let mut corners = Vec::with_capacity(sides.len());
    for (at, side) in sides.iter().enumerate() {
        let before = sides[if at == 0 { sides.len() } else { at } - 1].line;
        if !nodes.touched[side.from]
            && let Some(old) = nodes.of.iter().position(|node| *node == side.from)
        {
            corners.push(wave.corners[old]);
            continue;
        }
        let born = nodes.keep(growth, side.from);
        let lines = &growth.lines;
        let corner = Corner::between(&lines[before], &lines[side.line], born);
        corners.push(corner.ok_or(Trouble::Lost)?);
    }
    Ok(Wave {
        lines: sides.iter().map(|side| side.line).collect(),
        corners,
        z: nodes.z,
    })
}

/// How a line and the one after it go on from where they meet.
enum Meeting {
    /// They are one line from here on.
    Together,
    /// They are in line but rise differently, so an upright step stands between them.
    Step(usize),
    /// They make a corner.
    Corner,
}

impl Growth<'_> {
    fn meeting(&mut self, a: usize, b: usize, place: Flat) -> Meeting {
        let (a, b) = (self.root(a), self.root(b));
        if a == b {
            return Meeting::Together;
        }
        let (one, other) = (&self.lines[a], &self.lines[b]);
        let parallel = cross(one.along, other.along).abs() < PARALLEL;
        if !parallel || dot(one.along, other.along) < 0.0 {
            return Meeting::Corner;
        }
        if (one.run - other.run).abs() <= 1e-9 * (one.run + other.run) {
            self.parent[a.max(b)] = a.min(b);
            return Meeting::Together;
        }
        let up = one.inward;
        let step = if one.run < other.run {
            up
        } else {
            [-up[0], -up[1]]
        };
        Meeting::Step(self.upright(step, place))
    }

    /// An upright step through a place, which the slower slope ends at and the other runs up to.
    fn upright(&mut self, along: Flat, place: Flat) -> usize {
        let inward = left(along);
        self.lines.push(Line {
            along,
            inward,
            offset: dot(inward, place),
            run: 0.0,
            rise: 0.0,
            sides: Vec::new(),
        });
        self.parent.push(self.lines.len() - 1);
        self.lines.len() - 1
    }
}
