//! Where the house stands on the sheet.

use crate::job::Side;
use crate::trade::roof::Roof;

/// A place on the sheet.
pub(super) type Spot = (f64, f64);

/// The box in which the roof is drawn: left, top, width, height.
const BOX: (f64, f64, f64, f64) = (150.0, 112.0, 460.0, 360.0);
const MIDDLE: Spot = (BOX.0 + BOX.2 / 2.0, BOX.1 + BOX.3 / 2.0);

/// A plain hip: for each side its plane, the middle of its words and the room round them.
pub(super) const PLAIN: &[(Side, &[Spot], Spot, f64)] = &[
    (
        Side::Front,
        &[
            (150.0, 472.0),
            (610.0, 472.0),
            (470.0, 292.0),
            (290.0, 292.0),
        ],
        (380.0, 386.0),
        120.0,
    ),
    (
        Side::Right,
        &[(610.0, 472.0), (610.0, 112.0), (470.0, 292.0)],
        (556.0, 292.0),
        50.0,
    ),
    (
        Side::Rear,
        &[
            (610.0, 112.0),
            (150.0, 112.0),
            (290.0, 292.0),
            (470.0, 292.0),
        ],
        (380.0, 196.0),
        120.0,
    ),
    (
        Side::Left,
        &[(150.0, 112.0), (150.0, 472.0), (290.0, 292.0)],
        (204.0, 292.0),
        50.0,
    ),
];

/// The plain hip's outline.
pub(super) const PLAIN_OUTLINE: [Spot; 4] = [
    (150.0, 112.0),
    (610.0, 112.0),
    (610.0, 472.0),
    (150.0, 472.0),
];

/// Where a side's marks stand: their middle, the way from left to right as one faces the side,
/// and its name with its anchor.
pub(super) fn wall(side: Side) -> (Spot, Spot, Spot, &'static str) {
    let (left, top) = (BOX.0, BOX.1);
    let (right, bottom) = (BOX.0 + BOX.2, BOX.1 + BOX.3);
    match side {
        Side::Front => (
            (MIDDLE.0, bottom + 26.0),
            (1.0, 0.0),
            (MIDDLE.0, bottom + 56.0),
            "middle",
        ),
        Side::Rear => (
            (MIDDLE.0, top - 26.0),
            (-1.0, 0.0),
            (MIDDLE.0, top - 50.0),
            "middle",
        ),
        Side::Right => (
            (right + 26.0, MIDDLE.1),
            (0.0, -1.0),
            (right + 46.0, MIDDLE.1 + 4.0),
            "start",
        ),
        Side::Left => (
            (left - 26.0, MIDDLE.1),
            (0.0, 1.0),
            (left - 46.0, MIDDLE.1 + 4.0),
            "end",
        ),
    }
}

/// A roof's plan turned with its front to the foot and fitted to the box.
pub(super) struct Frame {
    turn: (f64, f64),
    scale: f64,
    least: Spot,
    off: Spot,
}

impl Frame {
    /// Without a bearing of the front the plan stands as it was drawn.
    pub(super) fn of(roof: &Roof, front_bearing: Option<f64>) -> Self {
        // The plan's +y, up on the sheet, is at bearing `north`; the front is to point down.
        let up = front_bearing.filter(|bearing| bearing.is_finite());
        let angle = up.map_or(0.0, |front| (front + 180.0 - roof.north).to_radians());
        let mut frame = Self {
            turn: (angle.cos(), angle.sin()),
            scale: 1.0,
            least: (0.0, 0.0),
            off: (0.0, 0.0),
        };
        let turned: Vec<Spot> = roof.outline.iter().map(|at| frame.turned(*at)).collect();
        let (least, most) = bounds(&turned);
        let (wide, high) = ((most.0 - least.0).max(1e-6), (most.1 - least.1).max(1e-6));
        frame.scale = (BOX.2 / wide).min(BOX.3 / high);
        frame.least = least;
        frame.off = (
            MIDDLE.0 - wide * frame.scale / 2.0,
            MIDDLE.1 - high * frame.scale / 2.0,
        );
        frame
    }

    /// Turned, and the other way up, as sheets are.
    fn turned(&self, at: [f64; 2]) -> Spot {
        let (cos, sin) = self.turn;
        (at[0] * cos - at[1] * sin, -(at[0] * sin + at[1] * cos))
    }

    pub(super) fn at(&self, place: [f64; 2]) -> Spot {
        let turned = self.turned(place);
        (
            self.off.0 + (turned.0 - self.least.0) * self.scale,
            self.off.1 + (turned.1 - self.least.1) * self.scale,
        )
    }
}

fn bounds(spots: &[Spot]) -> (Spot, Spot) {
    let mut least = (f64::MAX, f64::MAX);
    let mut most = (f64::MIN, f64::MIN);
    for at in spots {
        least = (least.0.min(at.0), least.1.min(at.1));
        most = (most.0.max(at.0), most.1.max(at.1));
    }
    (least, most)
}

/// Steps across a plane in the search for its widest place.
const STEPS: usize = 24;

/// The place in a polygon farthest from its border, to a grid, and how far it is.
pub(super) fn inside(corners: &[Spot]) -> (Spot, f64) {
    let (least, most) = bounds(corners);
    let mut best = (((least.0 + most.0) / 2.0, (least.1 + most.1) / 2.0), 0.0);
    for step in 0..STEPS * STEPS {
        let share = |part: usize| (part as f64 + 0.5) / STEPS as f64;
        let at = (
            least.0 + (most.0 - least.0) * share(step % STEPS),
            least.1 + (most.1 - least.1) * share(step / STEPS),
        );
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

fn edges(corners: &[Spot]) -> impl Iterator<Item = (Spot, Spot)> + '_ {
    let next = corners.iter().cycle().skip(1);
    corners.iter().copied().zip(next.copied())
}

fn within(at: Spot, corners: &[Spot]) -> bool {
    let crossed = edges(corners).filter(|(a, b)| {
        (a.1 > at.1) != (b.1 > at.1) && at.0 < a.0 + (at.1 - a.1) / (b.1 - a.1) * (b.0 - a.0)
    });
    crossed.count() % 2 == 1
}

fn to_border(at: Spot, corners: &[Spot]) -> f64 {
    edges(corners).fold(f64::MAX, |nearest, (a, b)| {
        let run = (b.0 - a.0, b.1 - a.1);
        let square = run.0 * run.0 + run.1 * run.1;
        let rest = (at.0 - a.0, at.1 - a.1);
        let share = ((rest.0 * run.0 + rest.1 * run.1) / square.max(1e-12)).clamp(0.0, 1.0);
        nearest.min((rest.0 - run.0 * share).hypot(rest.1 - run.1 * share))
    })
}
