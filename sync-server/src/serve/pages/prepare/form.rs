//! What was sent, and what is wrong with it.

use std::collections::BTreeMap;

use axum::extract::Multipart;
use axum::extract::multipart::MultipartError;
use axum::response::{IntoResponse, Response};

use crate::limits;

/// The form as it came: kept as typed, so that nothing has to be typed again.
#[derive(Debug, Default)]
pub(super) struct Sent {
    typed: BTreeMap<String, String>,
    pub(super) devices: Vec<String>,
    pub(super) measured: Option<SentFile>,
    pub(super) storms: Vec<SentFile>,
}

/// A file of the form.
#[derive(Debug)]
pub(super) struct SentFile {
    pub(super) name: String,
    pub(super) bytes: Vec<u8>,
}

/// What is wrong, by field, and with the whole.
#[derive(Debug, Default)]
pub(super) struct Wrong {
    fields: BTreeMap<&'static str, String>,
    whole: Vec<String>,
}

impl Sent {
    /// Reads the form.
    ///
    /// # Errors
    /// The whole answer where it breaks off or is past its limit.
    pub(super) async fn read(mut form: Multipart) -> Result<(Self, Wrong), Box<Response>> {
        let mut sent = Self::default();
        let mut wrong = Wrong::default();
        let broken = |error: MultipartError| Box::new(error.into_response());
        while let Some(part) = form.next_field().await.map_err(broken)? {
            let name = part.name().unwrap_or_default().to_owned();
            let file_name = part.file_name().map(plain_name);
            let bytes = part.bytes().await.map_err(broken)?;
            match (name.as_str(), file_name) {
                ("measured", Some(name)) if !name.is_empty() || !bytes.is_empty() => {
                    let bytes = bytes.to_vec();
                    sent.measured = Some(SentFile { name, bytes });
                }
                ("storm", Some(name)) if !name.is_empty() || !bytes.is_empty() => {
                    let bytes = bytes.to_vec();
                    sent.storms.push(SentFile { name, bytes });
                }
                (_, Some(_)) => {}
                ("device", None) => sent.devices.push(text(&bytes)),
                (_, None) => {
                    if sent.typed.len() < limits::FORM_FIELDS {
                        sent.typed.insert(name, text(&bytes));
                    }
                }
            }
        }
        if sent.storms.len() > limits::STORM_FILES {
            let most = limits::STORM_FILES;
            wrong.add("storm", format!("Hand in at most {most} files at a time."));
            sent.storms.truncate(most);
        }
        Ok((sent, wrong))
    }

    /// A field as typed; empty where it was not sent.
    pub(super) fn typed(&self, name: &str) -> &str {
        self.typed.get(name).map_or("", String::as_str)
    }

    /// A field without outer spaces; none where it is empty.
    pub(super) fn filled(&self, name: &str) -> Option<String> {
        let text = self.typed(name).trim();
        (!text.is_empty()).then(|| text.to_owned())
    }

    pub(super) fn sent_files(&self) -> bool {
        self.measured.is_some() || !self.storms.is_empty()
    }

    #[cfg(test)]
    pub(super) fn of(fields: &[(&str, &str)]) -> Self {
        let typed = fields
            .iter()
            .map(|(name, value)| ((*name).to_owned(), (*value).to_owned()));
        Self {
            typed: typed.collect(),
            ..Self::default()
        }
    }
}

impl Wrong {
    pub(super) fn add(&mut self, field: &'static str, words: impl Into<String>) {
        self.fields.entry(field).or_insert_with(|| words.into());
    }

    pub(super) fn whole(&mut self, words: String) {
        self.whole.push(words);
    }

    pub(super) fn of(&self, field: &str) -> Option<&str> {
        self.fields.get(field).map(String::as_str)
    }

    pub(super) fn of_whole(&self) -> &[String] {
        &self.whole
    }

    pub(super) fn is_empty(&self) -> bool {
        self.fields.is_empty() && self.whole.is_empty()
    }
}

/// Text of a form; browsers send line ends as CR LF, and bytes that are no UTF-8 do not come from
/// a page of ours.
fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).replace("\r\n", "\n")
}

/// The last part of a file's name: some browsers send the folders with it.
fn plain_name(name: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    last.chars()
        .filter(|letter| !letter.is_control())
        .take(200)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_files_are_names_alone() {
        assert_eq!(plain_name("C:\\jobs\\report.csv"), "report.csv");
        assert_eq!(plain_name("../../etc/report\u{0}\n.csv"), "report.csv");
        assert_eq!(plain_name(&"x".repeat(500)).len(), 200);
    }

    #[test]
    fn the_first_word_on_a_field_stands() {
        let mut wrong = Wrong::default();
        assert!(wrong.is_empty());
        wrong.add("latitude", "first");
        wrong.add("latitude", "second");
        assert_eq!(wrong.of("latitude"), Some("first"));
        assert!(!wrong.is_empty() && wrong.of("longitude").is_none());
    }
}
