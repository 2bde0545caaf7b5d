//! The scope: the lines of work that the record supports, each with its evidence.
//!
//! A line says what the record shows and what a code asks for. It never says what an insurer
//! covers or owes, and no figure here decides whether a slope is replaced: the crew's finding
//! does, and the estimator.

mod along;
mod amounts;
mod causes;
mod changes;
mod colour;
mod csv_list;
mod eaves;
mod findings;
mod ice;
mod inputs;
mod item;
mod line;
mod price_list;
mod priced;
mod quantity;
mod required;
mod roof;
mod sheet;
mod slopes;
mod totals;
mod under;
mod with_slope;

#[cfg(test)]
mod tests;

pub use csv_list::ScopeCsvError;
pub use inputs::ScopeInputs;
pub use item::Item;
pub use line::{Basis, Earlier, LineChange, LineKey, Orphan, Scope, ScopeLine, Total, Withheld};
pub use price_list::{
    Price, PriceColumns, PriceList, PriceListError, SkippedPrice, action_of, read_price_list,
    unit_of,
};
pub use priced::{Priced, PricedLine, Unpriced};
pub use quantity::Quantity;

use super::view::View;
use super::{Facts, Reader};
use crate::job::{Audience, Job};
use roof::Roof;
use sheet::Sheet;

/// The scope of a job: lines from findings, counts, edges, slopes and requirements, with the
/// estimator's changes laid over them. For the office; [`Scope::for_reader`] takes out what others
/// may not read.
pub fn scope(job: &Job, inputs: &ScopeInputs) -> Scope {
    let facts = Facts::default();
    let view = View::new(job, &facts);
    let roof = Roof::of(&view, inputs);
    let mut sheet = Sheet::new(&view, inputs);
    findings::write(&mut sheet, &roof);
    slopes::write(&mut sheet, &roof);
    along::write(&mut sheet, &roof);
    with_slope::write(&mut sheet, &roof);
    let (lines, withheld) = sheet.finish();
    let changed = changes::apply(job, lines);
    Scope {
        totals: totals::totals(&changed.lines),
        lines: changed.lines,
        left_out: changed.left_out,
        withheld,
        orphaned: changed.orphaned,
    }
}

impl Scope {
    /// The scope as a reader may see it. For anyone, what is office only is taken out, and so are
    /// the lines that were left out; sums follow.
    pub fn for_reader(mut self, reader: Reader) -> Self {
        if reader == Reader::Anyone {
            self.lines.retain(|line| line.audience == Audience::Shared);
            self.left_out.clear();
            self.withheld
                .retain(|held| held.audience == Audience::Shared);
            self.orphaned.clear();
            self.totals = totals::totals(&self.lines);
        }
        self
    }
}
