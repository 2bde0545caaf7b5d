//! What is told to others: the owner's account on the doorstep, the sheet for production, and the
//! office's questions with their answers.

use chalkwalk_core::job::{JobId, RecordId, RecordRef};
use chalkwalk_core::review::account::{AccountLine as CoreLine, owners_account};
use chalkwalk_core::review::production::{
    Certainty, SheetLine as CoreSheetLine, SheetOptions, production_sheet,
};
use chalkwalk_core::review::questions::questions;

use crate::review::reader;
use crate::{Answer, Caution, Notebook};

/// One line of the owner's account.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct AccountLine {
    /// What the owner reads.
    pub text: String,
    /// The records it rests on.
    pub records: Vec<RecordRef>,
    /// Photos of them that the owner may see, by time.
    pub photos: Vec<RecordId>,
}

/// What was observed at one place.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct AccountPlace {
    /// Its name.
    pub name: String,
    /// What was observed there.
    pub lines: Vec<AccountLine>,
}

/// The account for the owner, in plain words. It says what was seen and what happens next, never
/// what an insurer covers or owes.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct OwnersAccount {
    /// Street and town.
    pub address: String,
    /// Days of the visits.
    pub days: Vec<String>,
    /// What was looked at, and what was not.
    pub looked_at: Vec<AccountLine>,
    /// What was observed, in the order of a walk round the house.
    pub observed: Vec<AccountPlace>,
    /// What was there before.
    pub before: Vec<AccountLine>,
    /// What is unsure or could not be seen.
    pub unsure: Vec<AccountLine>,
    /// What happens next.
    pub next: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// Who signed, with the part they signed in.
    pub signed_by: Vec<String>,
    /// What a signature means: to be shown before somebody signs.
    pub signature_means: String,
    /// Stands at the end, always.
    pub no_promise: String,
    /// Records with words that were held back because they speak of cover or payment: for the
    /// crew, not for the owner.
    pub held_back: Vec<RecordRef>,
}

/// How sure a line of the production sheet is.
#[uniffi::remote(Enum)]
pub enum Certainty {
    /// Recorded.
    Known,
    /// Seen by nobody or inferred: confirm at tear-off.
    Confirm,
    /// Nobody recorded it.
    Unknown,
}

/// One line of the production sheet.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct SheetLine {
    /// What the production crew reads.
    pub text: String,
    /// How sure it is.
    pub certainty: Certainty,
    /// The records it rests on.
    pub records: Vec<RecordRef>,
    /// Photos of them, by time.
    pub photos: Vec<RecordId>,
}

/// What production must know, weeks later.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct ProductionSheet {
    /// Street, town and code; empty where not recorded.
    pub address: String,
    /// What the roofing is nailed to, and its gaps.
    pub deck: Vec<SheetLine>,
    /// Layers of roofing, slope by slope.
    pub layers: Vec<SheetLine>,
    /// What stands in the way of tear-off.
    pub obstacles: Vec<SheetLine>,
    /// To confirm at tear-off.
    pub confirm_at_tear_off: Vec<SheetLine>,
    /// Gates, pets, height, steep slopes.
    pub access: Vec<SheetLine>,
    /// What was there before, so that nobody is blamed for it.
    pub prior_conditions: Vec<SheetLine>,
    /// What needs paint or stain to match.
    pub paint_to_match: Vec<SheetLine>,
    /// What comes off and goes back.
    pub detach_and_reset: Vec<SheetLine>,
    /// Stands above the cautions.
    pub defer: String,
    /// Safety cautions.
    pub cautions: Vec<Caution>,
}

/// An answer to a question of the office.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct QuestionAnswer {
    /// In words.
    pub text: Option<String>,
    /// A photo that answers it.
    pub photo: Option<RecordRef>,
    /// Who answered.
    pub who: String,
    /// When, by that person's device.
    pub at: i64,
}

/// A question of the office to the crew. Answer it by adding an `Answer` that names it.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct OfficeQuestion {
    /// Its record.
    pub question: RecordRef,
    /// The record it is about; empty for the house.
    pub about: Option<RecordRef>,
    /// The same as the crew calls it.
    pub about_words: Option<String>,
    /// The question.
    pub text: Option<String>,
    /// Who asked.
    pub who: String,
    /// When, by that person's device.
    pub at: i64,
    /// The answers so far.
    pub answers: Vec<QuestionAnswer>,
}

#[uniffi::export]
impl Notebook {
    /// The account for the owner: what was seen, what is unsure, what happens next.
    pub fn owners_account(&self, job: JobId) -> Answer<OwnersAccount> {
        self.inner.with(|core| {
            let account = owners_account(core.job(job)?);
            let observed = account.observed.into_iter().map(|place| AccountPlace {
                name: place.name,
                lines: lines(place.lines),
            });
            Ok(OwnersAccount {
                address: account.address,
                days: account.days,
                looked_at: lines(account.looked_at),
                observed: observed.collect(),
                before: lines(account.before),
                unsure: lines(account.unsure),
                next: account.next,
                cautions: account.cautions.iter().map(ToString::to_string).collect(),
                signed_by: account.signature.signed_by,
                signature_means: account.signature.means.to_owned(),
                no_promise: account.no_promise.to_owned(),
                held_back: account.held_back,
            })
        })
    }

    /// What production must know. Amounts of material are the office's to work out. For anybody
    /// else than the office, what is office only is left out.
    pub fn production_sheet(&self, job: JobId, for_office: bool) -> Answer<ProductionSheet> {
        self.inner.with(|core| {
            let options = SheetOptions::default();
            let sheet = production_sheet(core.job(job)?, reader(for_office), &options);
            let cautions = sheet.cautions.iter().map(|caution| Caution {
                text: caution.text.to_owned(),
                source: caution.source.to_string(),
            });
            Ok(ProductionSheet {
                address: sheet.address,
                deck: sheet_lines(sheet.deck),
                layers: sheet_lines(sheet.layers),
                obstacles: sheet_lines(sheet.obstacles),
                confirm_at_tear_off: sheet_lines(sheet.confirm_at_tear_off),
                access: sheet_lines(sheet.access),
                prior_conditions: sheet_lines(sheet.prior_conditions),
                paint_to_match: sheet_lines(sheet.paint_to_match),
                detach_and_reset: sheet_lines(sheet.detach_and_reset),
                defer: sheet.deference.to_owned(),
                cautions: cautions.collect(),
            })
        })
    }

    /// The office's questions: those without an answer first, then by time.
    pub fn questions(&self, job: JobId) -> Answer<Vec<OfficeQuestion>> {
        self.inner.with(|core| {
            let asked = questions(core.job(job)?).into_iter();
            let asked = asked.map(|one| OfficeQuestion {
                question: one.question,
                about: one.about,
                about_words: one.about_words,
                text: one.text,
                who: one.by,
                at: one.at,
                answers: one
                    .answers
                    .into_iter()
                    .map(|given| QuestionAnswer {
                        text: given.text,
                        photo: given.photo,
                        who: given.by,
                        at: given.at,
                    })
                    .collect(),
            });
            Ok(asked.collect())
        })
    }
}

fn lines(lines: Vec<CoreLine>) -> Vec<AccountLine> {
    let lines = lines.into_iter().map(|line| AccountLine {
        text: line.text,
        records: line.from,
        photos: line.photos,
    });
    lines.collect()
}

fn sheet_lines(lines: Vec<CoreSheetLine>) -> Vec<SheetLine> {
    let lines = lines.into_iter().map(|line| SheetLine {
        text: line.text,
        certainty: line.certainty,
        records: line.from,
        photos: line.photos,
    });
    lines.collect()
}
