//! How much of what a new shingle roof takes, from its areas, edges and counts.
//!
//! Every line tells its arithmetic and what it used. The waste is stated by a person, never taken
//! for granted; what a bundle or a roll covers is an input with a default and its source. What is
//! not known makes the line unknown, with what is known so far beside it. Quantities help to
//! order; the supplier's labels and the manufacturer's instructions come first.

mod areas;
mod counts;
mod coverage;
mod eaves;
mod inputs;
mod line;
mod lines;

#[cfg(test)]
mod tests;

pub use coverage::{COVERAGES, Coverage, CoverageKey, Entered, PRACTICE};
pub use inputs::{MaterialError, MaterialInputs, RoofArea, RoofEdge, Waste};
pub use line::{MaterialItem, MaterialLine, MaterialUnit, Used};

use line::Reckoning;

/// The material lines of a roof, in the order in which it is laid. The same inputs give the same
/// lines.
///
/// # Errors
/// Where a number cannot be what it says: negative, no number, beyond
/// [`crate::limits::ROOF_MEASURE`], a waste beyond [`crate::limits::WASTE_PERCENT`], a coverage of
/// nothing.
pub fn materials(inputs: &MaterialInputs) -> Result<Vec<MaterialLine>, MaterialError> {
    inputs.check()?;
    let mut lines = Vec::new();
    for reckon in LINES {
        reckon(inputs, &mut lines);
    }
    Ok(lines)
}

type Reckon = fn(&MaterialInputs, &mut Vec<MaterialLine>);

const LINES: &[Reckon] = &[
    eaves::drip_edge,
    eaves::gutter_apron,
    eaves::ice_barrier,
    areas::underlayment,
    lines::valleys,
    eaves::starter,
    areas::squares,
    areas::bundles,
    lines::step_flashing,
    lines::headwall,
    lines::caps,
    counts::boots,
    counts::vents,
    counts::vent_area,
    areas::fasteners,
];
