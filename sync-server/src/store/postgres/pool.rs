//! Connections: a few for each database, shared by all offices in it, none waited for without end.

use std::sync::Arc;

use deadpool_postgres::{
    Manager, ManagerConfig, Object, Pool, PoolError, RecyclingMethod, Runtime, TimeoutType,
};
use rustls::ClientConfig;
use rustls::crypto::ring;
use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;
use rustls_platform_verifier::BuilderVerifierExt;
use tokio_postgres::Row;
use tokio_postgres::config::SslMode;
use tokio_postgres::types::{ToSql, Type};
use tokio_postgres_rustls::MakeRustlsConnect;

use super::error::{self, DatabaseError};
use super::place::PostgresPlace;
use crate::store::{StoreError, limits};

/// A value of a statement with its type, so that no statement is prepared on its own: each is one
/// message there and one back, and nothing is left on the connection.
pub(super) type Param<'a> = (&'a (dyn ToSql + Sync), Type);

/// The connections to one database.
#[derive(Clone)]
pub(super) struct Connections {
    pool: Pool,
    pub(super) tls: MakeRustlsConnect,
    at: Arc<str>,
}

impl Connections {
    /// Connects to nothing yet.
    pub(super) fn new(place: &PostgresPlace) -> Result<Self, StoreError> {
        let tls = tls(place)?;
        let recycling = ManagerConfig {
            recycling_method: RecyclingMethod::Fast,
        };
        let manager = Manager::from_config(place.config.clone(), tls.clone(), recycling);
        let pool = Pool::builder(manager)
            .max_size(place.connections)
            .runtime(Runtime::Tokio1)
            .wait_timeout(Some(limits::CALL))
            .create_timeout(Some(limits::CONNECT * 2))
            .recycle_timeout(Some(limits::CONNECT))
            .build()
            .map_err(StoreError::unavailable)?;
        let at = place.to_string().into();
        Ok(Self { pool, tls, at })
    }

    pub(super) async fn lease(&self, schema: &Arc<str>) -> Result<Lease, StoreError> {
        let object = self
            .pool
            .get()
            .await
            .map_err(|error| self.no_lease(error))?;
        Ok(Lease {
            object: Some(object),
            schema: Arc::clone(schema),
        })
    }

    fn no_lease(&self, error: PoolError) -> StoreError {
        let seconds = limits::CALL.as_secs();
        match error {
            PoolError::Backend(error) => error::unreachable(&self.at, &error),
            PoolError::Timeout(TimeoutType::Wait) => {
                StoreError::unavailable(DatabaseError::Busy(seconds))
            }
            PoolError::Timeout(_) => StoreError::unavailable(DatabaseError::Unreachable {
                at: self.at.to_string(),
                cause: "it does not answer".to_owned(),
            }),
            other => StoreError::unavailable(other),
        }
    }
}

/// The use of one connection. Unless it is given back, it is cut when dropped: what was in hand
/// is then rolled back by the database.
pub(super) struct Lease {
    object: Option<Object>,
    schema: Arc<str>,
}

impl Drop for Lease {
    fn drop(&mut self) {
        if let Some(object) = self.object.take() {
            drop(Object::take(object));
        }
    }
}

impl Lease {
    /// Does work within the time a call may take, and gives the connection back where it is as it
    /// was found: an error of the database leaves it in order, silence does not.
    pub(super) async fn settle<T>(
        mut self,
        done: Result<Result<T, StoreError>, tokio::time::error::Elapsed>,
    ) -> Result<T, StoreError> {
        let Ok(done) = done else {
            let late = DatabaseError::Late(limits::CALL.as_secs());
            return Err(StoreError::unavailable(late));
        };
        // One that is closed is thrown away by the pool.
        drop(self.object.take());
        done
    }

    pub(super) fn client(&self) -> Result<&tokio_postgres::Client, StoreError> {
        match &self.object {
            Some(object) => Ok(object),
            None => Err(StoreError::unavailable(DatabaseError::Lost)),
        }
    }

    /// The statement with the office's schema in it: `@` before a table, `#` for its name.
    pub(super) fn sql(&self, text: &str) -> String {
        let mut sql = String::with_capacity(text.len() + 64);
        for part in text.chars() {
            match part {
                '@' => {
                    sql.push_str(&self.schema);
                    sql.push('.');
                }
                '#' => sql.push_str(&self.schema),
                other => sql.push(other),
            }
        }
        sql
    }

    pub(super) async fn all(&self, text: &str, with: &[Param<'_>]) -> Result<Vec<Row>, StoreError> {
        Ok(self.client()?.query_typed(&self.sql(text), with).await?)
    }

    pub(super) async fn maybe(
        &self,
        text: &str,
        with: &[Param<'_>],
    ) -> Result<Option<Row>, StoreError> {
        Ok(self.all(text, with).await?.pop())
    }

    pub(super) async fn one(&self, text: &str, with: &[Param<'_>]) -> Result<Row, StoreError> {
        let row = self.maybe(text, with).await?;
        row.ok_or(StoreError::Corrupt("a row that must be there is not"))
    }

    /// Rows that were changed.
    pub(super) async fn change(&self, text: &str, with: &[Param<'_>]) -> Result<u64, StoreError> {
        Ok(self.client()?.execute_typed(&self.sql(text), with).await?)
    }

    pub(super) async fn batch(&self, text: &str) -> Result<(), StoreError> {
        Ok(self.client()?.batch_execute(&self.sql(text)).await?)
    }

    pub(super) async fn begin(&self) -> Result<(), StoreError> {
        self.batch("BEGIN ISOLATION LEVEL READ COMMITTED").await
    }

    /// Begins what can be made again: the commit does not wait for the disk.
    pub(super) async fn begin_lightly(&self) -> Result<(), StoreError> {
        self.batch("BEGIN ISOLATION LEVEL READ COMMITTED; SET LOCAL synchronous_commit = off")
            .await
    }

    /// Begins, and waits for a lock that is held until the end. Statements after it see all that
    /// its last holder committed.
    pub(super) async fn begin_locked(&self, lock: i64) -> Result<(), StoreError> {
        let with: [Param<'_>; 1] = [(&lock, Type::INT8)];
        let begun = self.begin();
        let locked = self.all("SELECT pg_advisory_xact_lock($1)", &with);
        // One message after the other, one wait for both answers.
        let (begun, locked) = tokio::join!(begun, locked);
        begun?;
        match locked {
            Ok(_) => Ok(()),
            Err(error) => self.roll_back(error).await,
        }
    }

    pub(super) async fn commit(&self) -> Result<(), StoreError> {
        self.batch("COMMIT").await
    }

    /// Ends a transaction that failed; the value is why it did.
    pub(super) async fn roll_back<T>(&self, error: StoreError) -> Result<T, StoreError> {
        // Where this fails too, the connection is gone, and the transaction with it.
        let _ = self.batch("ROLLBACK").await;
        Err(error)
    }

    /// Ends a transaction as its work ended.
    pub(super) async fn end<T>(&self, done: Result<T, StoreError>) -> Result<T, StoreError> {
        match done {
            Ok(done) => self.commit().await.map(|()| done),
            Err(error) => self.roll_back(error).await,
        }
    }

    /// The number of a lock of this office. Two names with one number only wait for each other.
    pub(super) fn lock_of(&self, name: &[&[u8]]) -> i64 {
        let mut hasher = blake3::Hasher::new_derive_key("chalkwalk database lock v1");
        hasher.update(self.schema.as_bytes());
        for part in name {
            hasher.update(&[0]);
            hasher.update(part);
        }
        let mut number = [0; 8];
        number.copy_from_slice(&hasher.finalize().as_bytes()[..8]);
        i64::from_be_bytes(number)
    }
}

fn tls(place: &PostgresPlace) -> Result<MakeRustlsConnect, StoreError> {
    let unusable = |cause: String| {
        StoreError::Setting(format!(
            "the certificates for the database cannot be used: {cause}"
        ))
    };
    let builder = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .map_err(|error| unusable(error.to_string()))?;
    let builder = match &place.root_certificate {
        // Not used, and a machine may have none.
        None if place.config.get_ssl_mode() == SslMode::Disable => {
            builder.with_root_certificates(rustls::RootCertStore::empty())
        }
        None => builder
            .with_platform_verifier()
            .map_err(|error| unusable(error.to_string()))?,
        Some(file) => {
            let mut roots = rustls::RootCertStore::empty();
            let pem = CertificateDer::pem_file_iter(file)
                .map_err(|error| unusable(format!("{}: {error}", file.display())))?;
            for certificate in pem {
                let certificate = certificate.map_err(|error| unusable(error.to_string()))?;
                roots
                    .add(certificate)
                    .map_err(|error| unusable(error.to_string()))?;
            }
            builder.with_root_certificates(roots)
        }
    };
    Ok(MakeRustlsConnect::new(builder.with_no_client_auth()))
}
