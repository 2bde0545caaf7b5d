//! What a device is told of 50,000 jobs at the start of its session, against reading all of them.
//!
//!     cargo bench -p chalkwalk-tests --bench many_jobs
//!     tests/engines.py cargo bench -p chalkwalk-tests --bench many_jobs    # PostgreSQL as well
//!
//! All but 60 of the jobs are closed. The crew's device wrote to 40 and is assigned to 20 more;
//! the baseline reads how every job stands and then the table of each that is closed, as the
//! server once did.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::sync::Arc;
use std::time::Instant;

use chalkwalk_core::job::{DeviceId, JobId};
use chalkwalk_sync_server::store::{
    Accounts, PostgresPlace, PostgresRecords, Records, SqliteAccounts, SqliteRecords,
};
use chalkwalk_tests::yard::line;
use rusqlite::Connection;

const JOBS: u64 = 50_000;
const OPEN: u64 = 60;

fn main() {
    let folder = tempfile::tempdir().unwrap();
    let runtime = tokio::runtime::Runtime::new().unwrap();
    println!("{JOBS} jobs, {OPEN} of them open, milliseconds, best of 5");
    let files = [
        folder.path().join("records.sqlite"),
        folder.path().join("accounts.sqlite"),
    ];
    let records = Arc::new(SqliteRecords::open(&files[0]).unwrap());
    let accounts = Arc::new(SqliteAccounts::open(&files[1]).unwrap());
    let id = "CAST(printf('%016d', n) AS BLOB)";
    let numbers = format!(
        "WITH RECURSIVE t (n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM t WHERE n + 1 < {JOBS})"
    );
    Connection::open(&files[0])
        .unwrap()
        .execute_batch(&format!(
            "INSERT INTO job {numbers} SELECT {id}, 1, 0, 0 FROM t;
             INSERT INTO author {numbers} SELECT {id},
                CASE WHEN n < 40 THEN zeroblob(24) ELSE CAST('other device of crew' || '0123'
                    AS BLOB) END, 1, zeroblob(32) FROM t;"
        ))
        .unwrap();
    Connection::open(&files[1])
        .unwrap()
        .execute_batch(&format!(
            "INSERT INTO closed {numbers} SELECT {id}, 5 FROM t WHERE n >= {OPEN};
             INSERT INTO assigned {numbers} SELECT {id}, zeroblob(16) FROM t
                WHERE n >= {OPEN} AND n < {OPEN} + 20;"
        ))
        .unwrap();
    runtime.block_on(measure("SQLite", &*records, &*accounts));
    let Ok(url) = std::env::var("CHALKWALK_POSTGRES") else {
        return;
    };
    let schema = format!("many_{}", std::process::id());
    let place = PostgresPlace::parse(&url)
        .unwrap()
        .with_schema(&schema)
        .unwrap();
    runtime.block_on(async {
        let records = PostgresRecords::new(place).unwrap();
        records.ready().await.unwrap();
        let (client, connection) = tokio_postgres::connect(&url, tokio_postgres::NoTls)
            .await
            .unwrap();
        tokio::spawn(connection);
        let id = "convert_to(lpad(n::text, 16, '0'), 'UTF8')";
        let from = format!("FROM generate_series(0, {JOBS} - 1) n");
        client
            .batch_execute(&format!(
                "SET search_path = {schema};
                 INSERT INTO job SELECT {id}, 1, 0, 0 {from};
                 INSERT INTO author SELECT {id}, CASE WHEN n < 40
                    THEN decode(repeat('00', 24), 'hex')
                    ELSE convert_to('other device of crew0123', 'UTF8') END,
                    1, decode(repeat('00', 32), 'hex') {from};
                 INSERT INTO closed SELECT {id}, 5 {from} WHERE n >= {OPEN};
                 INSERT INTO assigned SELECT {id}, decode(repeat('00', 16), 'hex') {from}
                    WHERE n >= {OPEN} AND n < {OPEN} + 20;
                 ANALYZE job; ANALYZE author; ANALYZE closed; ANALYZE assigned"
            ))
            .await
            .unwrap();
        measure("PostgreSQL", &records, &records.accounts()).await;
    });
}

async fn measure(name: &str, records: &dyn Records, accounts: &dyn Accounts) {
    let device = DeviceId::from_bytes([0; 16]);
    let mut best = [f64::MAX; 4];
    let mut seen = 0;
    for round in 0..5 {
        let began = Instant::now();
        seen = accounts.jobs_seen(records, device).await.unwrap().len();
        keep(&mut best[0], began);
        let began = Instant::now();
        assert_eq!(records.job_ids().await.unwrap().len() as u64, JOBS);
        keep(&mut best[1], began);
        let began = Instant::now();
        let all = records.jobs().await.unwrap();
        keep(&mut best[3], began);
        if round > 0 {
            continue;
        }
        // Slow: once.
        let (access, mut there) = (accounts.all_access().await.unwrap(), 0);
        for status in &all {
            let free = access.get(&status.job).is_none_or(|access| {
                access.closed_at.is_none() && access.devices.is_empty()
                    || access.devices.contains(&device)
            });
            let wrote = async |job: JobId| {
                let table = records.table(job).await.unwrap();
                table.keys().any(|author| author.device == device)
            };
            there += usize::from(free || wrote(status.job).await);
        }
        keep(&mut best[2], began);
        assert_eq!(there, seen);
    }
    let crew = format!("{name}: a crew's device, which sees {seen}");
    line(&crew, best[0], best[2], "ms", 0.05, false);
    let office = format!("{name}: an office device, which sees all");
    line(&office, best[1], best[3], "ms", 0.5, false);
}

fn keep(best: &mut f64, began: Instant) {
    *best = best.min(began.elapsed().as_secs_f64() * 1e3);
}
