//! Why the server, or a device that speaks to it, cannot go on.

use std::net::SocketAddr;
use std::path::PathBuf;

use crate::store::StoreError;

/// Why the server cannot start or go on. The text says what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ServerError {
    /// No company was named at the first start.
    #[error("this folder holds no office yet: name the company at the first start")]
    NoCompany,
    /// The folder of keys does not go with the records.
    #[error(
        "the office's key is not the one the records were made with: put back the file {0} from \
         a copy of this data folder"
    )]
    OtherKey(PathBuf),
    /// A key file cannot be read.
    #[error("the key file {0} is damaged: put it back from a copy of this data folder")]
    DamagedKey(PathBuf),
    /// Another server works on the folder.
    #[error("another server is running on this data folder: stop it first")]
    InUse,
    /// The office of this folder was moved to another storage.
    #[error(
        "the office of this folder was moved: start with --records and --blobs as it was moved to; \
         to go back to what is here and lose what came since, delete the file {0}"
    )]
    Moved(PathBuf),
    /// The office of this folder was not moved to the storage that is named.
    #[error(
        "the folder {0} holds an office that was not moved: stop the server and run chalkwalk move \
         with the same --data, --records and --blobs first"
    )]
    NotMoved(PathBuf),
    /// People and shared links of this folder are not in the database that holds the records.
    #[error(
        "the file {0} holds people, shared links and who sees which job, and they are not in the \
         database: stop the server and run chalkwalk move with the same --data and --records; \
         where another node's were moved already, put this file aside, as each node kept its own"
    )]
    PeopleNotMoved(PathBuf),
    /// The address is taken or not of this machine.
    #[error("cannot listen on {address}: choose another address")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// What the system says.
        #[source]
        cause: std::io::Error,
    },
    /// The files for TLS cannot be used.
    #[error("{0} cannot be used for TLS: give PEM files of a certificate and of its key")]
    Tls(PathBuf),
    /// A name for a company's address is not one.
    #[error("\"{0}\" cannot stand in an address: use small letters, digits and dashes")]
    Slug(String),
    /// There is a company of this name.
    #[error("there is a company at /at/{0} already")]
    CompanyExists(String),
    /// One server holds no more companies.
    #[error("one server holds at most {0} companies: start another on a folder of its own")]
    TooManyCompanies(usize),
    /// The data folder cannot be used.
    #[error("the data folder cannot be used")]
    Folder(#[source] std::io::Error),
    /// Storage failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The office's own certificate could not be made.
    #[error("the office's certificate could not be made")]
    Certificate(#[from] chalkwalk_core::job::SealError),
    /// The part of the server that runs tasks stopped.
    #[error("the server stopped unexpectedly")]
    Stopped(#[source] std::io::Error),
}
