//! Fields that two people stated differently, side by side, until somebody says which holds.

use chalkwalk_core::job::{Conflict, Job, Kind, Photo, RecordRef, Scalar, Statement};
use chalkwalk_core::packet::marks_of;
use maud::{Markup, html};

use super::super::super::icons::icon;
use super::super::at_job::AtJob;
use super::super::words::{record_name, record_path};
use super::super::{deeds, edit, marks};

pub(super) fn section(at: &AtJob, may_settle: bool) -> Markup {
    let conflicts = at.disputed();
    html! {
        section #settle aria-labelledby="settle-head" {
            h2 #settle-head { "Stated in two ways" }
            @if conflicts.is_empty() {
                p.soft { "No two people stated the same thing differently." }
            } @else {
                p.soft { "Two people recorded the same field apart from each other. Nobody's word \
                    is lost: the record shows one of them until somebody settles it." }
                @for (record, conflict) in &conflicts { (card(at, record, conflict, may_settle)) }
            }
        }
    }
}

fn card(at: &AtJob, record: &RecordRef, conflict: &Conflict, may_settle: bool) -> Markup {
    let name = record_name(&at.job, record);
    let field = edit::label(record.kind, &conflict.field);
    let digest = digest(conflict);
    html! {
        article.card aria-label={ (field) ", " (name) } {
            h3 { (field) span.soft { " · "
                @match record_path(record) {
                    Some(path) => a href={ (at.path()) (path) } { (name) },
                    None => (name),
                }
            } }
            div.statements { @for (number, said) in conflict.statements.iter().enumerate() {
                div {
                    p.value { (value(&at.job, record.kind, &conflict.field, said.value.as_ref())) }
                    p.soft.small { (deeds::who(at, said.by)) br; (at.when(said.by.at)) }
                    @if may_settle {
                        form method="post" action={ (at.path()) "/open/settle" } {
                            input type="hidden" name="record" value=(record);
                            input type="hidden" name="field" value=(conflict.field);
                            input type="hidden" name="seen" value=(digest);
                            button name="statement" value=(number) { (icon("check")) "This holds" }
                        }
                    }
                }
            } }
            @if !may_settle { p.soft.small { "An estimator settles it." } }
        }
    }
}

/// What the statements come to, so that nobody settles what they have not seen.
pub(super) fn digest(conflict: &Conflict) -> String {
    let mut hasher = blake3::Hasher::new();
    for Statement { value, by } in &conflict.statements {
        let text = format!("{value:?}\0{}\0{}\0", by.device, by.at);
        hasher.update(text.as_bytes());
    }
    hasher.finalize().to_hex()[..32].to_owned()
}

/// A stated value as people read it.
pub(super) fn value(job: &Job, kind: Kind, field: &str, value: Option<&Scalar>) -> String {
    let Some(value) = value else {
        return "left empty".to_owned();
    };
    if let Scalar::Str(text) = value
        && let Ok(place) = text.parse::<RecordRef>()
    {
        return record_name(job, &place);
    }
    if let (Kind::Photo, "marks", Scalar::Bytes(bytes)) = (kind, field, value) {
        let photo = Photo {
            marks: Some(bytes.clone().into()),
            ..Photo::default()
        };
        return marks::in_words(&marks_of(&photo));
    }
    let words = kind.value_in_words(field, value.as_ref());
    words.unwrap_or_else(|| "a value of a newer version".to_owned())
}

#[cfg(test)]
mod tests {
    use chalkwalk_core::job::{DeviceId, Stamp};

    use super::*;

    fn conflict(values: &[&str], at: i64) -> Conflict {
        let said = |value: &&str| Statement {
            value: Some(Scalar::Str((*value).to_owned())),
            by: Stamp {
                device: DeviceId::from_bytes([1; 16]),
                at,
            },
        };
        Conflict {
            field: "cause".into(),
            statements: values.iter().map(said).collect(),
        }
    }

    #[test]
    fn another_statement_is_another_digest() {
        let one = digest(&conflict(&["hail", "wind"], 1));
        assert_eq!(one, digest(&conflict(&["hail", "wind"], 1)));
        assert_ne!(one, digest(&conflict(&["hail", "wind", "prior"], 1)));
        assert_ne!(one, digest(&conflict(&["hail", "prior"], 1)));
        assert_ne!(one, digest(&conflict(&["hail", "wind"], 2)));
    }
}
