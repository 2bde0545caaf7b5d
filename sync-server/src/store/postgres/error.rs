//! What the database's errors are called here. No values of rows: they may name people.

use tokio_postgres::error::SqlState;

use crate::store::StoreError;

#[derive(Debug, thiserror::Error)]
pub(super) enum DatabaseError {
    #[error("the connection to the database was lost; the next call connects again")]
    Lost,
    #[error("the database did not answer within {0} seconds; the next call connects again")]
    Late(u64),
    #[error("no connection to the database was free within {0} seconds")]
    Busy(u64),
    #[error("the database cannot be reached at {at}: {cause}")]
    Unreachable { at: String, cause: String },
    #[error("the database says: {words} ({code})")]
    Said { code: String, words: String },
    #[error("a column of the database has another type than it should")]
    Column,
}

impl From<tokio_postgres::Error> for StoreError {
    fn from(error: tokio_postgres::Error) -> Self {
        StoreError::unavailable(name(&error))
    }
}

pub(super) fn name(error: &tokio_postgres::Error) -> DatabaseError {
    let Some(said) = error.as_db_error() else {
        return DatabaseError::Lost;
    };
    let gone = [
        SqlState::ADMIN_SHUTDOWN,
        SqlState::CRASH_SHUTDOWN,
        SqlState::IDLE_IN_TRANSACTION_SESSION_TIMEOUT,
    ];
    if gone.contains(said.code()) {
        return DatabaseError::Lost;
    }
    DatabaseError::Said {
        code: said.code().code().to_owned(),
        words: said.message().to_owned(),
    }
}

/// Why no connection could be made.
pub(super) fn unreachable(at: &str, error: &tokio_postgres::Error) -> StoreError {
    let cause = match error.as_db_error() {
        Some(said) => said.message().to_owned(),
        None => chain(error),
    };
    let at = at.to_owned();
    StoreError::unavailable(DatabaseError::Unreachable { at, cause })
}

pub(super) fn chain(error: &dyn std::error::Error) -> String {
    let mut words = error.to_string();
    let mut next = error.source();
    while let Some(cause) = next {
        words.push_str(": ");
        words.push_str(&cause.to_string());
        next = cause.source();
    }
    words
}

pub(super) fn read(_: tokio_postgres::Error) -> StoreError {
    StoreError::unavailable(DatabaseError::Column)
}
