//! Reading whole tables as of one moment, and moving an office in.

use std::collections::BTreeMap;

use tokio_postgres::types::{ToSql, Type};

use super::error::read;
use super::pool::{Lease, Param};
use super::row::{many_bytes, number};
use super::{PostgresRecords, pool};
use crate::store::tables::{
    ACCOUNTS, CHANGE, Kind, Row, Table, Value, as_bytes, as_number, as_text,
};
use crate::store::{StoreError, limits};

/// The tables as of one moment; nodes may go on writing meanwhile.
pub(crate) struct Still(Lease);

/// A schema into which an office is being moved. Nobody else works on it meanwhile.
pub(crate) struct Entry(Lease);

impl PostgresRecords {
    /// All tables as of now.
    pub(crate) async fn still(&self) -> Result<Still, StoreError> {
        let lease = self.lease().await?;
        lease
            .batch(
                "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY;
                 SET LOCAL idle_in_transaction_session_timeout = 0",
            )
            .await?;
        Ok(Still(lease))
    }

    /// Begins to move people in beside records that are there already, in one transaction. The
    /// numbers of deeds go on after the number that the value bears.
    pub(crate) async fn enter_people(&self) -> Result<(Entry, i64), StoreError> {
        let lease = self.lease().await?;
        lease.begin_locked(lease.lock_of(&[b"people"])).await?;
        match enter_people_within(&lease).await {
            Ok(after) => Ok((Entry(lease), after)),
            Err(error) => lease.roll_back(error).await,
        }
    }

    /// Begins to move an office in, or goes on with it.
    pub(crate) async fn enter(&self, company: &[u8]) -> Result<Entry, StoreError> {
        self.lay_out().await?;
        let lease = self.0.connections.lease(&self.0.schema).await?;
        lease.begin_locked(lease.lock_of(&[b"layout"])).await?;
        let done = enter_within(&lease, company, self.0.place.schema()).await;
        lease.end(done).await?;
        Ok(Entry(lease))
    }
}

async fn enter_within(db: &Lease, company: &[u8], schema: &str) -> Result<(), StoreError> {
    if let Some(row) = db.maybe("SELECT company FROM @moving", &[]).await? {
        if many_bytes(&row, 0)? == company {
            return Ok(());
        }
        return Err(StoreError::Setting(format!(
            "another office is being moved into the schema {schema}: choose another one with \
             ?schema=NAME"
        )));
    }
    let held = db
        .one(
            "SELECT (SELECT count(*) FROM @company)
                + (SELECT count(*) FROM (SELECT 1 FROM @change LIMIT 1) c)",
            &[],
        )
        .await?;
    if number(&held, 0)? > 0 {
        return Err(StoreError::Setting(format!(
            "the schema {schema} holds an office already: choose another one with ?schema=NAME"
        )));
    }
    db.change(
        "INSERT INTO @moving (only_one, company) VALUES (1, $1)",
        &[(&company, Type::BYTEA)],
    )
    .await
    .map(drop)
}

async fn enter_people_within(db: &Lease) -> Result<i64, StoreError> {
    db.batch("SET LOCAL idle_in_transaction_session_timeout = 0")
        .await?;
    let held = db
        .one(
            "SELECT (SELECT count(*) FROM @person) + (SELECT count(*) FROM @share)
                + (SELECT count(*) FROM @closed) + (SELECT count(*) FROM @assigned)
                + (SELECT count(*) FROM @mark) + (SELECT count(*) FROM @paper),
                (SELECT coalesce(max(seq), 0) FROM @deed)",
            &[],
        )
        .await?;
    if number(&held, 0)? > 0 {
        return Err(StoreError::Setting(
            "the database holds people, shared links, assignments or papers already, such as those of \
             another node: they are not mixed with those of this folder"
                .to_owned(),
        ));
    }
    // A node that found nobody made one.
    db.batch("DELETE FROM @once WHERE purpose = 'first_admin'")
        .await?;
    number(&held, 1)
}

impl Still {
    /// The next rows of a table after this one, in the order of its key; none at the end.
    pub(crate) async fn page(
        &self,
        table: &Table,
        after: Option<&Row>,
    ) -> Result<Vec<Row>, StoreError> {
        page(&self.0, table, after).await
    }

    /// Ends the look.
    pub(crate) async fn end(self) -> Result<(), StoreError> {
        self.0.commit().await?;
        self.0.settle(Ok(Ok(()))).await
    }
}

impl Entry {
    /// Makes a table ready to be written: changes stay, as they are only ever added; the rest
    /// comes anew. The value is the last place of each job whose changes are there.
    pub(crate) async fn prepare(
        &self,
        table: &Table,
    ) -> Result<BTreeMap<Vec<u8>, i64>, StoreError> {
        if table.name != CHANGE.name {
            // What people did may not be deleted, and others name people.
            let clear = match ACCOUNTS.iter().any(|other| other.name == table.name) {
                true => format!("TRUNCATE @{} CASCADE", table.name),
                false => format!("DELETE FROM @{}", table.name),
            };
            self.0.batch(&clear).await?;
            return Ok(BTreeMap::new());
        }
        let rows = self
            .0
            .all("SELECT job, max(place) FROM @change GROUP BY job", &[])
            .await?;
        rows.iter()
            .map(|row| Ok((many_bytes(row, 0)?, number(row, 1)?)))
            .collect()
    }

    /// Adds a page of rows, all or none.
    pub(crate) async fn add(&self, table: &Table, page: &[Row]) -> Result<(), StoreError> {
        let columns = Columns::of(table, page);
        let marks: Vec<String> = (1..=table.columns.len()).map(|n| format!("${n}")).collect();
        let sql = format!(
            "INSERT INTO @{} ({}) SELECT * FROM unnest({})",
            table.name,
            table.list(),
            marks.join(", ")
        );
        self.0.change(&sql, &columns.params()).await.map(drop)
    }

    /// The next rows of a table after this one, as they stand now.
    pub(crate) async fn page(
        &self,
        table: &Table,
        after: Option<&Row>,
    ) -> Result<Vec<Row>, StoreError> {
        page(&self.0, table, after).await
    }

    /// Opens the schema to nodes.
    pub(crate) async fn finish(self) -> Result<(), StoreError> {
        self.0
            .batch(&format!("BEGIN; {COUNT_ON} DELETE FROM @moving; COMMIT"))
            .await?;
        self.0.settle(Ok(Ok(()))).await
    }

    /// Ends the transaction in which people were moved in.
    pub(crate) async fn finish_people(self) -> Result<(), StoreError> {
        self.0.batch(&format!("{COUNT_ON} COMMIT")).await?;
        self.0.settle(Ok(Ok(()))).await
    }
}

/// Numbers that the database gives go on after those that came.
const COUNT_ON: &str = "
SELECT setval(pg_get_serial_sequence('@audit', 'seq'),
    (SELECT coalesce(max(seq), 0) + 1 FROM @audit), false);
SELECT setval(pg_get_serial_sequence('@share', 'seq'),
    (SELECT coalesce(max(seq), 0) + 1 FROM @share), false);
SELECT setval(pg_get_serial_sequence('@deed', 'seq'),
    (SELECT coalesce(max(seq), 0) + 1 FROM @deed), false);";

/// Rows that are asked for at a time: few where they are large.
fn rows_of(table: &Table) -> i64 {
    let rows = match table.name {
        "snapshot" | "paper" => 1,
        _ => limits::COPY_ROWS,
    };
    i64::try_from(rows).unwrap_or(i64::MAX)
}

async fn page(db: &Lease, table: &Table, after: Option<&Row>) -> Result<Vec<Row>, StoreError> {
    let keys = table.key_at();
    let mut params: Vec<Param<'_>> = Vec::new();
    let mut past = String::new();
    let rows = rows_of(table);
    if let Some(after) = after {
        for at in &keys {
            if let Some(value) = after.get(*at) {
                params.push((value, type_of(table.columns[*at].1)));
            }
        }
        let marks: Vec<String> = (1..=params.len()).map(|n| format!("${n}")).collect();
        past = format!("WHERE ({}) > ({})", table.key.join(", "), marks.join(", "));
    }
    params.push((&rows, Type::INT8));
    let sql = format!(
        "SELECT {} FROM @{} {past} ORDER BY {} LIMIT ${}",
        table.list(),
        table.name,
        table.key.join(", "),
        params.len()
    );
    let found = db.all(&sql, &params).await?;
    found.iter().map(|row| values(table, row)).collect()
}

fn values(table: &Table, row: &tokio_postgres::Row) -> Result<Row, StoreError> {
    let columns = table.columns.iter().enumerate();
    columns
        .map(|(at, (_, kind))| {
            Ok(match kind {
                Kind::Bytes => {
                    let value: Option<Vec<u8>> = row.try_get(at).map_err(read)?;
                    value.map_or(Value::Nothing, Value::Bytes)
                }
                Kind::Number => {
                    let value: Option<i64> = row.try_get(at).map_err(read)?;
                    value.map_or(Value::Nothing, Value::Number)
                }
                Kind::Text => {
                    let value: Option<String> = row.try_get(at).map_err(read)?;
                    value.map_or(Value::Nothing, Value::Text)
                }
            })
        })
        .collect()
}

const fn type_of(kind: Kind) -> Type {
    match kind {
        Kind::Bytes => Type::BYTEA,
        Kind::Number => Type::INT8,
        Kind::Text => Type::TEXT,
    }
}

/// A page turned on its side, as the database takes it.
enum Column<'a> {
    Bytes(Vec<Option<&'a [u8]>>),
    Number(Vec<Option<i64>>),
    Text(Vec<Option<&'a str>>),
}

struct Columns<'a>(Vec<Column<'a>>);

impl<'a> Columns<'a> {
    fn of(table: &Table, page: &'a [Row]) -> Self {
        let column = |(at, (_, kind)): (usize, &(&str, Kind))| match kind {
            Kind::Bytes => Column::Bytes(page.iter().map(|row| as_bytes(row, at)).collect()),
            Kind::Number => Column::Number(page.iter().map(|row| as_number(row, at)).collect()),
            Kind::Text => Column::Text(page.iter().map(|row| as_text(row, at)).collect()),
        };
        Self(table.columns.iter().enumerate().map(column).collect())
    }

    fn params(&self) -> Vec<Param<'_>> {
        self.0
            .iter()
            .map(|column| -> pool::Param<'_> {
                match column {
                    Column::Bytes(values) => (values, Type::BYTEA_ARRAY),
                    Column::Number(values) => (values, Type::INT8_ARRAY),
                    Column::Text(values) => (values, Type::TEXT_ARRAY),
                }
            })
            .collect()
    }
}

impl ToSql for Value {
    fn to_sql(
        &self,
        ty: &Type,
        out: &mut tokio_postgres::types::private::BytesMut,
    ) -> Result<tokio_postgres::types::IsNull, Box<dyn std::error::Error + Sync + Send>> {
        match self {
            Value::Nothing => Ok(tokio_postgres::types::IsNull::Yes),
            Value::Bytes(bytes) => bytes.to_sql(ty, out),
            Value::Number(number) => number.to_sql(ty, out),
            Value::Text(text) => text.to_sql(ty, out),
        }
    }

    fn accepts(ty: &Type) -> bool {
        [Type::BYTEA, Type::INT8, Type::TEXT].contains(ty)
    }

    tokio_postgres::types::to_sql_checked!();
}
