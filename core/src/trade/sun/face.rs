//! How light meets a wall or slope.

use serde::Serialize;

use super::{SunError, SunPosition};
use crate::job::Pitch;
use crate::trade::geo::turned_once;

/// A wall or slope: which way it faces, and how steep it stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Face {
    /// Its name, such as "front wall" or "main, rear".
    pub name: String,
    facing: f64,
    tilt: f64,
}

impl Face {
    /// A face by the true bearing it faces and its tilt from 0 (flat) to 90 (a wall), degrees.
    pub fn new(name: &str, facing: f64, tilt: f64) -> Result<Self, SunError> {
        if !facing.is_finite() || !(0.0..=90.0).contains(&tilt) {
            return Err(SunError::Face);
        }
        Ok(Self {
            name: name.to_owned(),
            facing: turned_once(facing),
            tilt,
        })
    }

    /// A wall by the true bearing it faces.
    pub fn wall(name: &str, facing: f64) -> Result<Self, SunError> {
        Self::new(name, facing, 90.0)
    }

    /// A slope of a roof by the true bearing it faces and its pitch.
    pub fn slope(name: &str, facing: f64, pitch: Pitch) -> Result<Self, SunError> {
        Self::new(name, facing, (pitch.rise() / 12.0).atan().to_degrees())
    }

    /// True bearing it faces, degrees clockwise from north.
    pub fn facing(&self) -> f64 {
        self.facing
    }

    /// Degrees from flat.
    pub fn tilt(&self) -> f64 {
        self.tilt
    }

    /// Angle between the sun's rays and the line straight out of the face, degrees from 0 to 180:
    /// 0 shines squarely on it, near 90 grazes it, over 90 is behind it. Equation 47 of Reda and
    /// Andreas.
    pub fn incidence(&self, sun: &SunPosition) -> f64 {
        let (zenith, tilt) = (sun.zenith.to_radians(), self.tilt.to_radians());
        let aside = (sun.azimuth - self.facing).to_radians();
        let cosine = zenith.cos() * tilt.cos() + zenith.sin() * tilt.sin() * aside.cos();
        cosine.clamp(-1.0, 1.0).acos().to_degrees()
    }

    /// What the sun does to the face. The sun is down where its centre is below the horizon.
    pub fn light(&self, sun: &SunPosition, band: GrazingBand) -> Light {
        if sun.altitude() <= 0.0 {
            return Light::Night;
        }
        match self.incidence(sun) {
            angle if angle > 90.0 => Light::Shade,
            angle if angle >= band.from => Light::Grazing,
            _ => Light::Lit,
        }
    }
}

/// The incidences that count as grazing: from a beginning up to 90 degrees.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct GrazingBand {
    from: f64,
}

impl GrazingBand {
    /// A band that begins at an incidence from 45 to 89 degrees.
    pub fn new(from: f64) -> Result<Self, SunError> {
        if (45.0..=89.0).contains(&from) {
            Ok(Self { from })
        } else {
            Err(SunError::Band)
        }
    }

    /// Where it begins, degrees of incidence.
    pub fn from(self) -> f64 {
        self.from
    }
}

impl Default for GrazingBand {
    /// From 75 degrees: the shadow of an edge is tan(incidence) times as long as the edge is deep,
    /// so that from there on it is 3.7 times as long and more. Common practice, no source.
    fn default() -> Self {
        Self { from: 75.0 }
    }
}

/// What the sun does to a face.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Light {
    /// The sun is down.
    Night,
    /// The sun is behind the face.
    Shade,
    /// The light runs along the face.
    Grazing,
    /// The light falls on the face.
    Lit,
}

impl Light {
    /// All of them, in order.
    pub const ALL: [Light; 4] = [Light::Night, Light::Shade, Light::Grazing, Light::Lit];

    /// The word that people read.
    pub const fn label(self) -> &'static str {
        match self {
            Light::Night => "sun down",
            Light::Shade => "in shade",
            Light::Grazing => "grazed",
            Light::Lit => "lit",
        }
    }
}
