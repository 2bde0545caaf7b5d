//! The demo house.

use crate::review::demo_job::demo_job;
use crate::review::scope::{ScopeInputs, scope};

#[test]
fn show() {
    for line in &scope(
        &demo_job(),
        &ScopeInputs {
            waste_percent: Some(10.0),
            ..ScopeInputs::default()
        },
    )
    .lines
    {
        println!(
            "{} | {} | {:?} | {} | {:?} | {:?} || {} || {:?} || {:?}",
            line.key,
            line.item_words,
            line.size,
            line.place_words,
            line.quantity.map(|q| q.to_string()),
            line.audience,
            line.how,
            line.unsure,
            line.basis
        );
    }
}
