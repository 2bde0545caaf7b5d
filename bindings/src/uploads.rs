//! Originals for a phone's own upload in the background: what to put where, and what the answer
//! means. The system may kill the app at any step; what is due is worked out from the record.

use chalkwalk_core::job::{BlobKind, JobId, PhotoHash};
use chalkwalk_core::notebook::NotebookError;
use chalkwalk_link::client::Address;
use chalkwalk_link::token::token;
use serde::Deserialize;

use crate::inner::guarded;
use crate::{Answer, Notebook};

/// How long to wait where the office did not say, seconds.
const LATER_S: u32 = 60;

/// Lets this device upload for some minutes.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct UploadToken {
    /// A secret: it belongs in the header and nowhere else.
    pub token: String,
    /// The first moment at which it no longer counts.
    pub expires_at: i64,
}

/// A header of a request.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct Header {
    /// Its name.
    pub name: String,
    /// Its value.
    pub value: String,
}

/// One request to hand to the system's upload service: the file is the body, as it is.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Record)]
pub struct Upload {
    /// The photo; also a good name for the system's task.
    pub hash: PhotoHash,
    /// The job.
    pub job: JobId,
    /// `PUT`.
    pub method: String,
    /// Where to.
    pub url: String,
    /// Headers to send; the system adds the length.
    pub headers: Vec<Header>,
    /// Path of the file.
    pub path: String,
    /// Its bytes.
    pub size: u64,
}

/// What the office's answer to an upload means.
#[derive(Clone, Debug, PartialEq, Eq, uniffi::Enum)]
pub enum UploadMeaning {
    /// The office holds the photo whole and durably. It is noted: this device may free it.
    Kept,
    /// The token is over: ask for another and send again.
    NewToken,
    /// The office does not know the photo or the job yet: exchange with it, then send again.
    SyncFirst,
    /// Send again after so many seconds.
    Later {
        /// Seconds.
        seconds: u32,
    },
    /// The office does not take it; sending again does not help.
    Refused {
        /// For a person.
        words: String,
    },
}

#[derive(Deserialize)]
struct Held {
    held: u64,
    whole: bool,
}

#[derive(Deserialize)]
struct No {
    error: String,
}

#[uniffi::export]
impl Notebook {
    /// Asks the office for a token for uploads. May take 30 seconds.
    pub fn upload_token(&self) -> Answer<UploadToken> {
        let (me, office) = self.inner.with(|core| {
            let office = core.office().cloned().ok_or(NotebookError::NotEnrolled)?;
            Ok((core.identity().clone(), office))
        })?;
        let trust = self.inner.trust();
        let given = guarded(|| {
            Ok(token(
                &office.address,
                &trust,
                me.device,
                office.company,
                &me.key,
            )?)
        })?;
        Ok(UploadToken {
            token: given.token,
            expires_at: given.expires_at,
        })
    }

    /// Originals of a job that are here and that the office has yet to acknowledge, in walk order.
    /// Exchange the job's changes first: the office takes only photos that it knows of.
    pub fn uploads(&self, job: JobId, token: UploadToken) -> Answer<Vec<Upload>> {
        self.inner.with(|core| {
            let office = core.office().ok_or(NotebookError::NotEnrolled)?;
            let address: Address = office.address.parse()?;
            let mut uploads = Vec::new();
            for (hash, size) in core.originals_to_upload(job)? {
                let path = core.photo_store().path(BlobKind::Original, hash);
                uploads.push(Upload {
                    hash,
                    job,
                    method: "PUT".to_owned(),
                    url: address.page(&format!("/photos/{hash}?job={job}")),
                    headers: headers(&token),
                    path: path.to_string_lossy().into_owned(),
                    size,
                });
            }
            Ok(uploads)
        })
    }

    /// What the answer to an upload means: its status, its body (at most some hundred bytes are
    /// needed) and its `Retry-After`, where it has one. A status of 0 says that no answer came.
    #[uniffi::method(default(retry_after = None))]
    pub fn upload_answered(
        &self,
        upload: Upload,
        status: u16,
        body: String,
        retry_after: Option<String>,
    ) -> Answer<UploadMeaning> {
        let refused = || {
            let no = serde_json::from_str::<No>(&body);
            let words = no.map_or_else(|_| format!("the office answered {status}"), |no| no.error);
            UploadMeaning::Refused { words }
        };
        let said = retry_after.and_then(|text| text.trim().parse().ok());
        let seconds = said.unwrap_or(LATER_S);
        Ok(match status {
            200 | 201 => {
                // Another server between may answer as well: only the office's own words count.
                let held = serde_json::from_str::<Held>(&body).ok();
                if !held.is_some_and(|held| held.whole && held.held == upload.size) {
                    return Ok(UploadMeaning::Later { seconds });
                }
                let (job, hash, size) = (upload.job, upload.hash, upload.size);
                let noted = self
                    .inner
                    .with(|core| Ok(core.note_original_at_office(job, hash, size)?))?;
                if noted {
                    UploadMeaning::Kept
                } else {
                    UploadMeaning::SyncFirst
                }
            }
            401 => UploadMeaning::NewToken,
            404 => UploadMeaning::SyncFirst,
            // 422: what came was not the file; the way there damages bytes.
            0 | 408 | 422 | 425 | 429 | 500..=599 => UploadMeaning::Later { seconds },
            _ => refused(),
        })
    }
}

fn headers(token: &UploadToken) -> Vec<Header> {
    let header = |name: &str, value: String| Header {
        name: name.to_owned(),
        value,
    };
    vec![
        header("Authorization", format!("Bearer {}", token.token)),
        header("Content-Type", "application/octet-stream".to_owned()),
    ]
}
