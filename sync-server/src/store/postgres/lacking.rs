//! Which changes a peer lacks, read a page at a time.
//!
//! No transaction is needed: places are committed in their order and rows never change, so what is
//! read later only adds to the end.

use chalkwalk_core::document::{ChangeRow, Table};
use chalkwalk_core::job::JobId;
use chalkwalk_core::journal::SignedPrefix;
use tokio_postgres::Row;
use tokio_postgres::types::Type;

use super::changes::table;
use super::pool::Lease;
use super::row::{author, bytes, bytes_or_none, count, many_bytes, number, number_or_none};
use crate::store::StoreError;
use crate::store::encoding::signed;

/// Rows of a page: few at first, then as many as are likely to fit.
const PAGE: std::ops::RangeInclusive<i64> = 16..=2048;
const FIRST_PAGE: i64 = 128;

pub(super) async fn lacking(
    db: &Lease,
    job: JobId,
    theirs: &Table,
    max_bytes: usize,
) -> Result<Vec<ChangeRow>, StoreError> {
    let mut run = SignedPrefix::new(max_bytes);
    let peer = Peer::of(theirs)?;
    let Some(mut next) = first_lacking(db, job, theirs, &peer).await? else {
        return Ok(run.finish());
    };
    let (mut page, mut read, mut rows_read) = (FIRST_PAGE, 0_usize, 0_usize);
    loop {
        let rows = peer.page(db, job, next, page).await?;
        let last = i64::try_from(rows.len()).unwrap_or(i64::MAX) < page;
        for row in &rows {
            next = number(row, 5)? + 1;
            let change = change(row)?;
            read += change.bytes.len();
            rows_read += 1;
            if run.push(change) {
                return Ok(run.finish());
            }
        }
        if last {
            return Ok(run.finish());
        }
        let each = (read / rows_read.max(1)).max(1);
        let fit = max_bytes.saturating_sub(read) / each;
        page = i64::try_from(fit)
            .unwrap_or(i64::MAX)
            .saturating_add(1)
            .clamp(*PAGE.start(), *PAGE.end());
    }
}

fn change(row: &Row) -> Result<ChangeRow, StoreError> {
    Ok(ChangeRow {
        author: author(row, 0)?,
        number: count(row, 1)?,
        hash: bytes(row, 2)?,
        signature: bytes_or_none(row, 3)?,
        bytes: many_bytes(row, 4)?,
    })
}

/// A peer's table as columns.
struct Peer {
    authors: Vec<[u8; 24]>,
    numbers: Vec<i64>,
}

impl Peer {
    fn of(theirs: &Table) -> Result<Self, StoreError> {
        Ok(Self {
            authors: theirs.keys().map(|author| author.to_bytes()).collect(),
            numbers: theirs
                .values()
                .map(|held| signed(held.number))
                .collect::<Result<_, _>>()?,
        })
    }

    fn authors(&self) -> Vec<&[u8]> {
        self.authors.iter().map(<[u8; 24]>::as_slice).collect()
    }

    async fn page(
        &self,
        db: &Lease,
        job: JobId,
        from: i64,
        rows: i64,
    ) -> Result<Vec<Row>, StoreError> {
        db.all(
            "SELECT c.author, c.number, c.hash, c.signature, c.bytes, c.place FROM @change c
             LEFT JOIN unnest($3, $4) AS t (author, number) ON t.author = c.author
             WHERE c.job = $1 AND c.place >= $2 AND c.number > coalesce(t.number, 0)
             ORDER BY c.place LIMIT $5",
            &[
                (&job.as_bytes().as_slice(), Type::BYTEA),
                (&from, Type::INT8),
                (&self.authors(), Type::BYTEA_ARRAY),
                (&self.numbers, Type::INT8_ARRAY),
                (&rows, Type::INT8),
            ],
        )
        .await
    }
}

/// The place of the first change that somebody with this table lacks.
async fn first_lacking(
    db: &Lease,
    job: JobId,
    theirs: &Table,
    peer: &Peer,
) -> Result<Option<i64>, StoreError> {
    let id = job.as_bytes().as_slice();
    let authors = peer.authors();
    let with = [
        (&id as _, Type::BYTEA),
        (&authors as _, Type::BYTEA_ARRAY),
        (&peer.numbers as _, Type::INT8_ARRAY),
    ];
    let named = db.all(
        "SELECT c.author, c.number, c.hash FROM unnest($2, $3) AS t (author, number)
         JOIN @change c ON c.job = $1 AND c.author = t.author AND c.number = t.number
         ORDER BY c.author",
        &with,
    );
    let (named, ours) = tokio::join!(named, table(db, job));
    for row in named? {
        let author = author(&row, 0)?;
        let hash: [u8; 32] = bytes(&row, 2)?;
        if theirs
            .get(&author)
            .is_some_and(|held| held.short_hash != hash[..8])
        {
            return Err(StoreError::Forked {
                device: author.device,
                number: count(&row, 1)?,
            });
        }
    }
    let mut authors = Vec::new();
    let mut numbers = Vec::new();
    for (author, held) in ours? {
        let theirs = theirs.get(&author).map_or(0, |held| held.number);
        if theirs < held.number {
            authors.push(author.to_bytes());
            numbers.push(signed(theirs + 1)?);
        }
    }
    if authors.is_empty() {
        return Ok(None);
    }
    let authors: Vec<&[u8]> = authors.iter().map(<[u8; 24]>::as_slice).collect();
    let row = db
        .one(
            "SELECT min(c.place) FROM unnest($2, $3) AS t (author, number)
             JOIN @change c ON c.job = $1 AND c.author = t.author AND c.number = t.number",
            &[
                (&id, Type::BYTEA),
                (&authors, Type::BYTEA_ARRAY),
                (&numbers, Type::INT8_ARRAY),
            ],
        )
        .await?;
    number_or_none(&row, 0)
}
