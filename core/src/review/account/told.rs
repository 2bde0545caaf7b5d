//! What was looked at, what happens next, and what the account says to everybody.

use super::{AccountLine, AccountSignature, Teller};
use crate::job::*;
use crate::review::findings_list::FindingsList;
use crate::review::view::standing;
use crate::sorted::Sorted;

/// Cautions for the owner (common practice, no source).
pub const OWNER_CAUTIONS: &[&str] = &[
    "Please do not climb on the roof or a ladder to look for yourself: the photos show what was \
     seen.",
    "Keep people and pets from under loose gutters, hanging metal, broken glass and branches.",
    "If water comes in, keep away from wet lights, sockets and sagging ceilings, put a vessel under \
     the drip, and call somebody qualified.",
    "Keep away from anything that touches a power line, and call the utility.",
];

/// What a signature means.
pub const SIGNATURE_MEANS: &str = "A signature says that the visit took place and that the \
findings were shown. It promises nothing, orders no work and gives up no right.";

/// Stands at the end of every account.
pub const NO_PROMISE: &str = "This account says what was observed, measured and counted on the \
day. It does not say what an insurer will decide: that is between you, your policy and your \
insurer, and advice on it is licensed work in many places.";

pub(super) fn address(job: &Job) -> String {
    let Some(property) = job.property().filter(|property| property.stands()) else {
        return String::new();
    };
    let parts = [&property.street, &property.town];
    let parts: Vec<&str> = parts.into_iter().filter_map(Option::as_deref).collect();
    parts.join(", ")
}

pub(super) fn days(job: &Job) -> Vec<String> {
    let visits = job.records.visits.values().filter(|visit| visit.stands());
    let mut days: Vec<String> = visits
        .filter_map(|visit| visit.day.map(|day| day.to_string()))
        .collect();
    days.order();
    days.dedup();
    days
}

pub(super) fn signature(job: &Job) -> AccountSignature {
    let signatures = job.records.signatures.values();
    let signed = signatures.filter(|signature| signature.stands() && signature.strokes.is_some());
    let signed_by = signed
        .map(|signature| {
            let who = signature
                .signer
                .as_deref()
                .unwrap_or("a person without a name");
            match &signature.signs_as {
                Some(part) => format!("{who} ({part})"),
                None => who.to_owned(),
            }
        })
        .collect();
    AccountSignature {
        signed_by,
        means: SIGNATURE_MEANS,
    }
}

impl Teller<'_> {
    pub(super) fn looked_at(&self, list: &FindingsList) -> Vec<AccountLine> {
        let records = &self.view.job.records;
        let mut lines = Vec::new();
        for side in Side::ALL {
            let at = RecordRef::side(*side);
            let elevation = self.view.job.elevation(*side).filter(|e| e.stands());
            let group = list.groups.iter().find(|g| g.place.as_ref() == Some(&at));
            let something = group.is_some_and(|g| !g.findings.is_empty() || !g.parts.is_empty());
            let walked = elevation.is_some_and(|e| e.walked == Some(true));
            let text = match (walked, something) {
                (true, _) => format!("The {side} of the house was walked from left to right."),
                (false, true) => format!("Parts of the {side} of the house were looked at."),
                (false, false) => {
                    format!("It is not recorded that the {side} of the house was walked.")
                }
            };
            let from = elevation.map(|_| at).into_iter().collect();
            lines.push(self.line(text, from));
        }
        for (at, slope) in standing(Kind::Slope, &records.slopes) {
            let name = self.view.job.place_name(&at);
            let text = match slope.walked {
                Some(true) => format!("Roof, {name}: walked, or seen whole."),
                _ => format!("Roof, {name}: not walked, or not seen whole."),
            };
            lines.push(self.line(text, vec![at]));
        }
        for (at, structure) in standing(Kind::Structure, &records.structures) {
            let name = self.view.job.place_name(&at);
            let text = match structure.walked {
                Some(true) => format!("Looked at: {name}."),
                _ => format!("It is not recorded that this was looked at: {name}."),
            };
            lines.push(self.line(text, vec![at]));
        }
        for (at, _) in standing(Kind::Room, &records.rooms) {
            let name = self.view.job.place_name(&at);
            let photos = self.view.taken_at(&at).next().is_some();
            let found = list.groups.iter().any(|g| {
                g.place.as_ref() == Some(&at) && !(g.findings.is_empty() && g.parts.is_empty())
            });
            let text = if photos || found {
                format!("Inside, {name}: looked at.")
            } else {
                format!("Inside, {name}: it is not recorded that it was looked at.")
            };
            lines.push(self.line(text, vec![at]));
        }
        lines
    }

    /// What was told at the recap, held back where it speaks of cover; then what always follows.
    pub(super) fn next(&mut self) -> Vec<String> {
        let at = RecordRef::new(Kind::Recap, Job::only());
        let recap = self.view.job.recap().filter(|recap| recap.stands());
        let told = recap.and_then(|recap| recap.next.clone());
        let mut next: Vec<String> = Vec::new();
        if let Some(words) = self.free(told.as_ref(), &at) {
            next.push(format!("As told at the house: {words}."));
        }
        next.push(
            "The office writes up the visit from the record and asks the crew where something is \
             unclear."
                .to_owned(),
        );
        next.push(
            "Until somebody works on the house, keep what came off it, and write down any new \
             leak with its day."
                .to_owned(),
        );
        next
    }
}
