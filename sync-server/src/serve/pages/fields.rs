//! What came with a form or an address: names and values, in the order they came.

use std::convert::Infallible;

use axum::extract::{Form, FromRequestParts, Multipart};
use axum::http::request::Parts;
use url::form_urlencoded;

use crate::limits;

/// A form as it comes in.
pub(in crate::serve) type Sent = Form<Vec<(String, String)>>;

/// Names and values.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(in crate::serve) struct Fields(Vec<(String, String)>);

impl Fields {
    /// Those of a form.
    pub(in crate::serve) fn of(Form(pairs): Sent) -> Self {
        Self(pairs)
    }

    /// What was typed, without the blanks around it; empty where nothing was.
    pub(in crate::serve) fn get(&self, name: &str) -> &str {
        let found = self.0.iter().find(|(known, _)| known == name);
        found.map_or("", |(_, value)| value.trim())
    }

    /// Every value of a name, in order.
    pub(in crate::serve) fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        let named = self.0.iter().filter(move |(known, _)| known == name);
        named.map(|(_, value)| value.trim())
    }

    /// Whether a box of this name was ticked.
    pub(in crate::serve) fn ticked(&self, name: &str) -> bool {
        !self.get(name).is_empty()
    }

    /// The same with another value under a name.
    pub(in crate::serve) fn with(mut self, name: &str, value: &str) -> Self {
        self.0.retain(|(known, _)| known != name);
        self.0.push((name.to_owned(), value.to_owned()));
        self
    }

    /// As the end of an address, with its question mark; the empty ones are left out.
    pub(in crate::serve) fn as_query(&self) -> String {
        let filled = self.0.iter().filter(|(_, value)| !value.is_empty());
        let text = form_urlencoded::Serializer::new(String::new())
            .extend_pairs(filled)
            .finish();
        if text.is_empty() {
            text
        } else {
            format!("?{text}")
        }
    }
}

/// The fields of an address.
#[derive(Clone, Debug, Default)]
pub(in crate::serve) struct Asked(pub(in crate::serve) Fields);

impl<S: Send + Sync> FromRequestParts<S> for Asked {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Infallible> {
        let query = parts.uri.query().unwrap_or_default();
        let pairs = form_urlencoded::parse(query.as_bytes());
        Ok(Self(Fields(pairs.into_owned().collect())))
    }
}

/// A file that came with a form, and the form's other fields.
#[derive(Clone, Debug, Default)]
pub(in crate::serve) struct Handed {
    /// The other fields.
    pub(in crate::serve) fields: Fields,
    /// The file's own name, without folders.
    pub(in crate::serve) name: String,
    /// Its bytes; empty where none was chosen.
    pub(in crate::serve) bytes: Vec<u8>,
}

impl Handed {
    /// Reads a form with the file in its field `file`.
    ///
    /// # Errors
    /// In words: it came in part, or is too long.
    pub(in crate::serve) async fn read(mut form: Multipart) -> Result<Self, String> {
        const CUT: &str = "The file did not come whole: it is longer than this page takes, or the \
                           link broke. Send it again; a scope has at most 8 MB.";
        let cut = |_| CUT.to_owned();
        let mut handed = Self::default();
        while let Some(mut field) = form.next_field().await.map_err(cut)? {
            let name = field.name().unwrap_or_default().to_owned();
            if name == "file" {
                handed.name = own_name(field.file_name().unwrap_or_default());
                while let Some(piece) = field.chunk().await.map_err(cut)? {
                    handed.bytes.extend_from_slice(&piece);
                }
            } else {
                let text = field.text().await.map_err(cut)?;
                handed.fields.0.push((name, text));
            }
        }
        Ok(handed)
    }
}

/// A file's name without folders and control characters, cut to what a record takes.
fn own_name(name: &str) -> String {
    let name = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let clean = name.chars().filter(|c| !c.is_control());
    let mut out = String::new();
    for letter in clean {
        if out.len() + letter.len_utf8() > limits::NAME_BYTES {
            break;
        }
        out.push(letter);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fields_keep_their_order_and_lose_their_blanks() {
        let pairs = [("slope", "a"), ("note", " b "), ("slope", "c")];
        let fields = Fields(pairs.map(|(n, v)| (n.to_owned(), v.to_owned())).to_vec());
        assert_eq!(fields.all("slope").collect::<Vec<_>>(), ["a", "c"]);
        assert_eq!((fields.get("note"), fields.get("none")), ("b", ""));
        let next = fields.with("slope", "d&e");
        assert_eq!(next.as_query(), "?note=+b+&slope=d%26e");
        assert_eq!(Fields::default().as_query(), "");
    }

    #[test]
    fn a_file_keeps_its_name_and_no_folder() {
        assert_eq!(own_name("C:\\papers\\scope.csv"), "scope.csv");
        assert_eq!(own_name("../../etc/scope\n.xlsx"), "scope.xlsx");
        assert!(own_name(&"ü".repeat(400)).len() <= limits::NAME_BYTES);
    }
}
