//! Reading and writing whole tables of a database file.

use std::path::Path;

use rusqlite::types::ValueRef;
use rusqlite::{Connection, OpenFlags, ToSql};

use super::{BUSY, migrations};
use crate::store::tables::{CHANGE, Row, Sum, Table, Value, weight};
use crate::store::{StoreError, limits};

/// A database file whose tables are read or written as a whole.
#[derive(Debug)]
pub(crate) struct WholeFile(Connection);

impl WholeFile {
    /// A file that is open already.
    pub(in crate::store) fn over(connection: Connection) -> Self {
        Self(connection)
    }

    /// A new file with the newest layout. One that is there is replaced.
    pub(crate) fn create(path: &Path) -> Result<Self, StoreError> {
        match std::fs::remove_file(path) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(error.into()),
            _ => {}
        }
        let mut connection = Connection::open(path)?;
        connection.pragma_update(None, "synchronous", "FULL")?;
        migrations::run(&mut connection)?;
        Ok(Self(connection))
    }

    /// A file as it is. Nothing is written to it.
    pub(crate) fn read_only(path: &Path) -> Result<Self, StoreError> {
        let connection = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        connection.busy_timeout(BUSY)?;
        migrations::check(&connection)?;
        Ok(Self(connection))
    }

    /// A file that nobody else writes to until this is dropped, brought up to the newest layout.
    pub(crate) fn still(path: &Path) -> Result<Self, StoreError> {
        let mut connection = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
        connection.busy_timeout(BUSY)?;
        migrations::check(&connection)?;
        migrations::run(&mut connection)?;
        connection.execute_batch("BEGIN IMMEDIATE")?;
        Ok(Self(connection))
    }

    /// Writes a copy of one moment to a new file; the office may go on meanwhile.
    pub(crate) fn copy_to(&self, path: &Path) -> Result<(), StoreError> {
        match std::fs::remove_file(path) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(error.into()),
            _ => {}
        }
        let name = path
            .to_str()
            .ok_or_else(|| StoreError::Setting("the folder's name is not plain text".to_owned()))?;
        self.0.execute("VACUUM INTO ?1", [name])?;
        Ok(())
    }

    /// SQLite's own check of the file.
    pub(crate) fn check(&self) -> Result<(), StoreError> {
        let word: String = self
            .0
            .query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))?;
        if word == "ok" {
            Ok(())
        } else {
            Err(StoreError::Corrupt("SQLite finds its file damaged"))
        }
    }

    /// Gives every row of a table in the order of its key.
    pub(crate) fn each<E: From<StoreError>>(
        &self,
        table: &Table,
        mut take: impl FnMut(Row) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut read = || -> Result<(), Stop<E>> {
            let mut query = self.0.prepare(&select(table)).map_err(StoreError::from)?;
            let mut rows = query.query([]).map_err(StoreError::from)?;
            let mut place = Place::default();
            while let Some(row) = rows.next().map_err(StoreError::from)? {
                let mut values: Row = Vec::with_capacity(table.columns.len());
                for column in 0..table.columns.len() {
                    values.push(value(row.get_ref(column).map_err(StoreError::from)?)?);
                }
                if table.name == CHANGE.name {
                    place.set(&mut values);
                }
                take(values).map_err(Stop::Taker)?;
            }
            Ok(())
        };
        read().map_err(|stop| match stop {
            Stop::Store(error) => error.into(),
            Stop::Taker(error) => error,
        })
    }

    /// Gives the rows of a table in pages.
    pub(crate) fn pages<E: From<StoreError>>(
        &self,
        table: &Table,
        mut take: impl FnMut(Vec<Row>) -> Result<(), E>,
    ) -> Result<(), E> {
        let (mut page, mut bytes) = (Vec::new(), 0);
        self.each(table, |row| {
            bytes += weight(&row);
            page.push(row);
            if page.len() < limits::COPY_ROWS && bytes < limits::COPY_BYTES {
                return Ok(());
            }
            bytes = 0;
            take(std::mem::take(&mut page))
        })?;
        if page.is_empty() { Ok(()) } else { take(page) }
    }

    /// Adds a page of rows, all or none.
    pub(crate) fn add(&mut self, table: &Table, page: &[Row]) -> Result<(), StoreError> {
        let transaction = self.0.transaction()?;
        let kept = kept(table);
        let names: Vec<&str> = kept.iter().map(|at| table.columns[*at].0).collect();
        let marks = vec!["?"; names.len()].join(", ");
        let sql = format!(
            "INSERT INTO {} ({}) VALUES ({marks})",
            table.name,
            names.join(", ")
        );
        {
            let mut insert = transaction.prepare_cached(&sql)?;
            for row in page {
                let values = kept.iter().filter_map(|at| row.get(*at));
                insert.execute(rusqlite::params_from_iter(values))?;
            }
        }
        transaction.commit()?;
        Ok(())
    }

    /// Rows and sum of each of these tables.
    pub(crate) fn sums(&self, tables: &[&Table]) -> Result<Vec<Sum>, StoreError> {
        tables
            .iter()
            .map(|table| {
                let mut sum = Sum::new();
                self.each(table, |row| {
                    sum.add(&row);
                    Ok::<_, StoreError>(())
                })?;
                Ok(sum)
            })
            .collect()
    }

    /// The names of the tables that the file really has.
    #[cfg(test)]
    pub(crate) fn layout(&self) -> Vec<(String, Vec<String>)> {
        let mut query = self
            .0
            .prepare("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
            .unwrap();
        let names: Vec<String> = query
            .query_map([], |row| row.get(0))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        names
            .into_iter()
            .map(|name| {
                let mut query = self
                    .0
                    .prepare("SELECT name FROM pragma_table_info(?1)")
                    .unwrap();
                let columns = query
                    .query_map([&name], |row| row.get(0))
                    .unwrap()
                    .map(Result::unwrap)
                    .collect();
                (name, columns)
            })
            .collect()
    }
}

enum Stop<E> {
    Store(StoreError),
    Taker(E),
}

impl<E> From<StoreError> for Stop<E> {
    fn from(error: StoreError) -> Self {
        Stop::Store(error)
    }
}

/// The place of a change is its turn in its job; the file has one count for all jobs.
#[derive(Default)]
struct Place {
    job: Option<Value>,
    next: i64,
}

impl Place {
    fn set(&mut self, row: &mut Row) {
        if self.job.as_ref() != row.first() {
            self.job = row.first().cloned();
            self.next = 0;
        }
        row[1] = Value::Number(self.next);
        self.next += 1;
    }
}

fn select(table: &Table) -> String {
    if table.name == CHANGE.name {
        let list = table.list().replace("place", "seq");
        return format!("SELECT {list} FROM change ORDER BY job, seq");
    }
    let key = table.key.join(", ");
    format!("SELECT {} FROM {} ORDER BY {key}", table.list(), table.name)
}

/// The columns that the file keeps itself: all but the place of a change.
fn kept(table: &Table) -> Vec<usize> {
    (0..table.columns.len())
        .filter(|at| table.columns[*at].0 != "place")
        .collect()
}

fn value(value: ValueRef<'_>) -> Result<Value, StoreError> {
    Ok(match value {
        ValueRef::Null => Value::Nothing,
        ValueRef::Integer(number) => Value::Number(number),
        ValueRef::Blob(bytes) => Value::Bytes(bytes.to_vec()),
        ValueRef::Text(text) => Value::Text(
            std::str::from_utf8(text)
                .map_err(|_| StoreError::Corrupt("a text that is none"))?
                .to_owned(),
        ),
        ValueRef::Real(_) => return Err(StoreError::Corrupt("a column of another type")),
    })
}

impl ToSql for Value {
    fn to_sql(&self) -> rusqlite::Result<rusqlite::types::ToSqlOutput<'_>> {
        use rusqlite::types::ToSqlOutput::Borrowed;
        Ok(Borrowed(match self {
            Value::Nothing => ValueRef::Null,
            Value::Bytes(bytes) => ValueRef::Blob(bytes),
            Value::Number(number) => ValueRef::Integer(*number),
            Value::Text(text) => ValueRef::Text(text.as_bytes()),
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::tables::{ACCOUNTS, TABLES};

    #[test]
    fn every_table_and_column_is_carried() {
        let folder = tempfile::tempdir().unwrap();
        let file = WholeFile::create(&folder.path().join("records.sqlite")).unwrap();
        // Counted by the database itself from `blob`, and of hours.
        whole(&file, TABLES, &["aside", "held"]);
        let file = WholeFile::create_accounts(&folder.path().join("accounts.sqlite")).unwrap();
        // Of minutes.
        whole(&file, ACCOUNTS, &["answered", "tries"]);
    }

    fn whole(file: &WholeFile, tables: &[&Table], but: &[&str]) {
        let there = file.layout();
        let names: Vec<&str> = there.iter().map(|(name, _)| name.as_str()).collect();
        let mut carried: Vec<&str> = tables.iter().map(|table| table.name).collect();
        carried.extend(but);
        carried.sort_unstable();
        assert_eq!(names, carried);
        for (name, columns) in there
            .iter()
            .filter(|(name, _)| !but.contains(&name.as_str()))
        {
            let table = tables.iter().find(|table| table.name == name).unwrap();
            let mut carried: Vec<&str> = table
                .columns
                .iter()
                .map(|(name, _)| if *name == "place" { "seq" } else { *name })
                .collect();
            let mut columns: Vec<&str> = columns.iter().map(String::as_str).collect();
            carried.sort_unstable();
            columns.sort_unstable();
            assert_eq!(columns, carried, "{name}");
            assert_eq!(table.key_at().len(), table.key.len(), "{name}");
        }
    }
}
