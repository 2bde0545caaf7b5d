//! Where things go on the sheet.

use crate::trade::roof::{Roof, Spot};

/// Width of the sheet.
pub(super) const WIDE: f64 = 800.0;
/// Room round the roof for labels.
const MARGIN: f64 = 64.0;
/// Most height of the roof on the sheet.
const TALL: f64 = 560.0;
/// Where the roof's box begins, beneath the title.
const TOP: f64 = 76.0;

/// Feet to the sheet: +y of the plan is up.
pub(super) struct Frame {
    /// Units of the sheet to a foot.
    pub(super) scale: f64,
    least: [f64; 2],
    most: [f64; 2],
    left: f64,
}

impl Frame {
    pub(super) fn new(roof: &Roof) -> Self {
        let mut least = [f64::MAX; 2];
        let mut most = [f64::MIN; 2];
        for at in &roof.outline {
            for axis in 0..2 {
                least[axis] = least[axis].min(at[axis]);
                most[axis] = most[axis].max(at[axis]);
            }
        }
        let size = [most[0] - least[0], most[1] - least[1]].map(|side| side.max(1e-6));
        let across = WIDE - 2.0 * MARGIN - 60.0;
        let scale = (across / size[0]).min(TALL / size[1]);
        let left = MARGIN + (across - size[0] * scale) / 2.0;
        Self {
            scale,
            least,
            most,
            left,
        }
    }

    pub(super) fn at(&self, place: [f64; 2]) -> [f64; 2] {
        [
            self.left + (place[0] - self.least[0]) * self.scale,
            TOP + (self.most[1] - place[1]) * self.scale,
        ]
    }

    pub(super) fn spot(&self, spot: &Spot) -> [f64; 2] {
        self.at([spot[0], spot[1]])
    }

    /// Where the roof's box ends.
    pub(super) fn bottom(&self) -> f64 {
        TOP + (self.most[1] - self.least[1]) * self.scale
    }
}

/// Steps across a plane in the search for its widest place.
const STEPS: usize = 24;

/// The place in a polygon farthest from its border, to a grid, and how far it is.
pub(super) fn inside(corners: &[[f64; 2]]) -> ([f64; 2], f64) {
    let mut least = [f64::MAX; 2];
    let mut most = [f64::MIN; 2];
    for at in corners {
        for axis in 0..2 {
            least[axis] = least[axis].min(at[axis]);
            most[axis] = most[axis].max(at[axis]);
        }
    }
    let mut best = (
        [(least[0] + most[0]) / 2.0, (least[1] + most[1]) / 2.0],
        0.0,
    );
    for step in 0..STEPS * STEPS {
        let share = |part: usize| (part as f64 + 0.5) / STEPS as f64;
        let (across, up) = (share(step % STEPS), share(step / STEPS));
        let at = [
            least[0] + (most[0] - least[0]) * across,
            least[1] + (most[1] - least[1]) * up,
        ];
        let room = if within(at, corners) {
            to_border(at, corners)
        } else {
            0.0
        };
        // A clear gain only, so that of even places the first is kept on every machine.
        if room > best.1 + 1e-6 {
            best = (at, room);
        }
    }
    best
}

fn sides(corners: &[[f64; 2]]) -> impl Iterator<Item = ([f64; 2], [f64; 2])> + '_ {
    let next = corners.iter().cycle().skip(1);
    corners.iter().copied().zip(next.copied())
}

fn within(at: [f64; 2], corners: &[[f64; 2]]) -> bool {
    let crossed = sides(corners).filter(|(a, b)| {
        (a[1] > at[1]) != (b[1] > at[1])
            && at[0] < a[0] + (at[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
    });
    crossed.count() % 2 == 1
}

fn to_border(at: [f64; 2], corners: &[[f64; 2]]) -> f64 {
    sides(corners).fold(f64::MAX, |nearest, (a, b)| {
        let run = [b[0] - a[0], b[1] - a[1]];
        let square = run[0] * run[0] + run[1] * run[1];
        let rest = [at[0] - a[0], at[1] - a[1]];
        let share = ((rest[0] * run[0] + rest[1] * run[1]) / square.max(1e-12)).clamp(0.0, 1.0);
        nearest.min((rest[0] - run[0] * share).hypot(rest[1] - run[1] * share))
    })
}

/// On which side of a line its label goes, as a unit vector: outside the roof for an eave or a
/// rake, above it for the others.
pub(super) fn side(from: [f64; 2], to: [f64; 2], outline: &[[f64; 2]], outward: bool) -> [f64; 2] {
    let run = [to[0] - from[0], to[1] - from[1]];
    let size = run[0].hypot(run[1]).max(1e-9);
    let mut side = [run[1] / size, -run[0] / size];
    // Near upright lines have their label on the left, where it reads upward.
    if side[1] > 1e-6 || (side[1].abs() <= 1e-6 && side[0] > 0.0) {
        side = [-side[0], -side[1]];
    }
    let middle = [(from[0] + to[0]) / 2.0, (from[1] + to[1]) / 2.0];
    let tried = [middle[0] + side[0] * 4.0, middle[1] + side[1] * 4.0];
    if outward && within(tried, outline) {
        side = [-side[0], -side[1]];
    }
    side
}
