//! Papers of the office.

use rusqlite::{OptionalExtension, Row, Transaction, params};

use crate::limits;
use crate::store::{StoreError, paper_mark};

pub(super) fn read(tx: &Transaction<'_>, name: &str) -> Result<Option<Vec<u8>>, StoreError> {
    let sql = "SELECT bytes FROM paper WHERE name = ?1";
    Ok(tx.query_row(sql, [name], |row| row.get(0)).optional()?)
}

pub(super) fn replace(
    tx: &Transaction<'_>,
    name: &str,
    was: &str,
    bytes: &[u8],
) -> Result<bool, StoreError> {
    let now = paper_mark(Some(bytes));
    if !was.is_empty() {
        let changed = tx.execute(
            "UPDATE paper SET mark = ?2, bytes = ?3 WHERE name = ?1 AND mark = ?4",
            params![name, now, bytes, was],
        )?;
        return Ok(changed == 1);
    }
    let sql = "SELECT count(*), count(*) FILTER (WHERE name = ?1) FROM paper";
    let (held, there) = tx.query_row(sql, [name], counts)?;
    if there > 0 {
        return Ok(false);
    }
    if held >= limits::PAPERS as u64 {
        return Err(StoreError::Limit("papers of the office"));
    }
    tx.execute(
        "INSERT INTO paper (name, mark, bytes) VALUES (?1, ?2, ?3)",
        params![name, now, bytes],
    )?;
    Ok(true)
}

pub(super) fn held(tx: &Transaction<'_>) -> Result<(u64, u64), StoreError> {
    let sql = "SELECT count(*), coalesce(sum(length(bytes)), 0) FROM paper";
    Ok(tx.query_row(sql, [], counts)?)
}

fn counts(row: &Row<'_>) -> rusqlite::Result<(u64, u64)> {
    Ok((row.get::<_, i64>(0)? as u64, row.get::<_, i64>(1)? as u64))
}

#[cfg(test)]
mod tests {
    use rusqlite::Connection;

    use super::*;

    #[test]
    fn one_paper_too_many_is_refused_and_those_held_can_still_be_replaced() {
        let mut file = Connection::open_in_memory().unwrap();
        file.execute_batch(include_str!("../0004_papers.sql"))
            .unwrap();
        let tx = file.transaction().unwrap();
        let most = i64::try_from(limits::PAPERS).unwrap();
        tx.execute(
            "WITH RECURSIVE n (n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM n WHERE n < ?1)
             INSERT INTO paper SELECT 'theirs-' || n, 'mark', x'' FROM n",
            [most - 1],
        )
        .unwrap();
        assert!(replace(&tx, "prices", "", b"one").unwrap());
        let refused = replace(&tx, "theirs", "", b"one too many").unwrap_err();
        assert!(matches!(refused, StoreError::Limit(_)), "{refused}");
        let seen = paper_mark(Some(b"one"));
        assert!(replace(&tx, "prices", &seen, b"two").unwrap());
        assert!(!replace(&tx, "prices", "", b"two").unwrap());
    }
}
