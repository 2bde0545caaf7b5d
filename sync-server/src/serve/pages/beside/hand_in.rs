//! `POST /jobs/{job}/beside`: a file of theirs is handed in. It is kept as it came, under its hash,
//! and shown before anything of it is recorded.

use axum::Extension;
use axum::extract::multipart::MultipartRejection;
use axum::extract::{Multipart, Path, State};
use axum::response::Response;
use chalkwalk_core::job::hex;
use chalkwalk_core::review::compare::table::read_table;

use super::super::at_job::AtJob;
use super::super::estimate::aside;
use super::super::fields::{Fields, Handed};
use super::super::{store_unwell, to};
use super::list::again;
use super::look::{sentence, turn};
use crate::limits;
use crate::serve::Shared;
use crate::serve::guard::SignedIn;
use crate::store::StoreError;

enum Trouble {
    File(String),
    Store(StoreError),
}

/// `POST /jobs/{job}/beside`.
pub(in crate::serve) async fn post(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    form: Result<Multipart, MultipartRejection>,
) -> Response {
    let at = match AtJob::open(&shared, &who, &id).await {
        Ok(at) => at,
        Err(response) => return response,
    };
    let handed = match form {
        Ok(form) => Handed::read(form).await,
        Err(_) => Err("Choose a file.".to_owned()),
    };
    let handed = match handed {
        Ok(handed) => handed,
        Err(words) => return again(&shared, &who, &id, &Fields::default(), &words).await,
    };
    let (fields, file) = (handed.fields.clone(), handed.name.clone());
    let name = fields.get("name").to_owned();
    if name.is_empty() || name.len() > limits::SHARE_NOTE_BYTES {
        let words = "Say whose scope it is, in a few words.";
        return again(&shared, &who, &id, &fields, words).await;
    }
    let _turn = match turn(&shared).await {
        Ok(turn) => turn,
        Err(words) => return again(&shared, &who, &id, &fields, words).await,
    };
    let work = move || match read_table(&handed.bytes, None) {
        Ok(_) => Ok(handed.bytes),
        Err(error) => Err(Trouble::File(sentence(&error.to_string()))),
    };
    let kept = match aside(&shared, work).await {
        Ok(Ok(bytes)) => {
            let kept = shared.papers.keep_theirs(&bytes).await;
            kept.map_err(Trouble::Store)
        }
        Ok(Err(trouble)) => Err(trouble),
        Err(response) => return response,
    };
    match kept {
        Ok(hash) => {
            let asked = Fields::default()
                .with("file", &hex(&hash))
                .with("name", &name)
                .with("as", &file);
            to(
                &shared,
                &format!("/jobs/{}/beside/read{}", at.id, asked.as_query()),
            )
        }
        Err(Trouble::File(words)) => again(&shared, &who, &id, &fields, &words).await,
        Err(Trouble::Store(error)) => store_unwell(&shared, &error),
    }
}
