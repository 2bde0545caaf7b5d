//! People, sign-ins and one-time links.

use chalkwalk_core::job::Millis;
use rusqlite::{Row, ToSql, Transaction, params};

use super::super::words::{purpose, purpose_columns};
use super::super::{Joined, Once, Person, PersonId, Purpose, SignIn, Swept, logins};
use crate::limits;
use crate::store::StoreError;
use crate::store::sqlite::encoding::{bytes, role};

const PERSON: &str = "SELECT id, name, mail, role, password, made_at, shut_out_at FROM person";

fn read_person(row: &Row<'_>, at: usize) -> Result<Person, StoreError> {
    let word: String = row.get(at + 3)?;
    Ok(Person {
        id: PersonId(bytes(row, at)?),
        name: row.get(at + 1)?,
        mail: row.get(at + 2)?,
        role: role(&word)?,
        password: row.get(at + 4)?,
        made_at: row.get(at + 5)?,
        shut_out_at: row.get(at + 6)?,
    })
}

pub(super) fn person(tx: &Transaction<'_>, id: PersonId) -> Result<Option<Person>, StoreError> {
    let mut query = tx.prepare_cached(&format!("{PERSON} WHERE id = ?1"))?;
    let mut rows = query.query([id.0])?;
    rows.next()?.map(|row| read_person(row, 0)).transpose()
}

pub(super) fn called(tx: &Transaction<'_>, folded: &str) -> Result<Option<Person>, StoreError> {
    let mut query = tx.prepare_cached(&format!(
        "{PERSON} WHERE id = (SELECT person FROM login WHERE folded = ?1)"
    ))?;
    let mut rows = query.query([folded])?;
    rows.next()?.map(|row| read_person(row, 0)).transpose()
}

pub(super) fn all(tx: &Transaction<'_>) -> Result<Vec<Person>, StoreError> {
    let mut query = tx.prepare_cached(&format!("{PERSON} ORDER BY id"))?;
    let mut rows = query.query([])?;
    let mut people = Vec::new();
    while let Some(row) = rows.next()? {
        people.push(read_person(row, 0)?);
    }
    Ok(people)
}

pub(super) fn add(tx: &Transaction<'_>, person: &Person) -> Result<Joined, StoreError> {
    let known: i64 = tx.query_row("SELECT count(*) FROM person", [], |row| row.get(0))?;
    if usize::try_from(known).unwrap_or(usize::MAX) >= limits::PEOPLE {
        return Err(StoreError::Limit("people of one company"));
    }
    let logins = logins(person);
    for login in &logins {
        if called(tx, login)?.is_some() {
            return Ok(Joined::Taken);
        }
    }
    tx.execute(
        "INSERT INTO person (id, name, mail, role, password, made_at, shut_out_at)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
        params![
            person.id.0,
            person.name,
            person.mail,
            person.role.code(),
            person.password,
            person.made_at,
            person.shut_out_at
        ],
    )?;
    for login in &logins {
        tx.execute(
            "INSERT INTO login (folded, person) VALUES (?1, ?2)",
            params![login, person.id.0],
        )?;
    }
    Ok(Joined::Done)
}

/// Sets one column; its name never comes from outside.
pub(super) fn set(
    tx: &Transaction<'_>,
    id: PersonId,
    column: &'static str,
    value: &dyn ToSql,
) -> Result<bool, StoreError> {
    let changed = tx.execute(
        &format!("UPDATE person SET {column} = ?2 WHERE id = ?1"),
        params![id.0, value],
    )?;
    Ok(changed > 0)
}

pub(super) fn put_sign_in(
    tx: &Transaction<'_>,
    sign_in: &SignIn,
    most: usize,
) -> Result<(), StoreError> {
    tx.execute(
        "INSERT INTO sign_in (hash, person, made_at, seen_at) VALUES (?1, ?2, ?3, ?4)",
        params![
            sign_in.hash,
            sign_in.person.0,
            sign_in.made_at,
            sign_in.seen_at
        ],
    )?;
    tx.execute(
        "DELETE FROM sign_in WHERE hash IN (SELECT hash FROM sign_in WHERE person = ?1
         ORDER BY seen_at DESC, hash LIMIT -1 OFFSET ?2)",
        params![sign_in.person.0, i64::try_from(most).unwrap_or(i64::MAX)],
    )?;
    Ok(())
}

pub(super) fn sign_in(
    tx: &Transaction<'_>,
    hash: &[u8; 32],
) -> Result<Option<(SignIn, Person)>, StoreError> {
    let mut query = tx.prepare_cached(
        "SELECT hash, person, sign_in.made_at, seen_at, id, name, mail, role, password,
         person.made_at, shut_out_at FROM sign_in JOIN person ON person = id WHERE hash = ?1",
    )?;
    let mut rows = query.query([hash])?;
    let Some(row) = rows.next()? else {
        return Ok(None);
    };
    let sign_in = SignIn {
        hash: bytes(row, 0)?,
        person: PersonId(bytes(row, 1)?),
        made_at: row.get(2)?,
        seen_at: row.get(3)?,
    };
    Ok(Some((sign_in, read_person(row, 4)?)))
}

pub(super) fn touch_sign_in(
    tx: &Transaction<'_>,
    hash: &[u8; 32],
    at: Millis,
) -> Result<(), StoreError> {
    tx.execute(
        "UPDATE sign_in SET seen_at = max(seen_at, ?2) WHERE hash = ?1",
        params![hash, at],
    )?;
    Ok(())
}

pub(super) fn end_sign_ins(
    tx: &Transaction<'_>,
    id: PersonId,
    but: Option<[u8; 32]>,
) -> Result<(), StoreError> {
    tx.execute(
        "DELETE FROM sign_in WHERE person = ?1 AND (?2 IS NULL OR hash <> ?2)",
        params![id.0, but],
    )?;
    Ok(())
}

pub(super) fn put_once(tx: &Transaction<'_>, once: &Once) -> Result<(), StoreError> {
    let (word, about) = purpose_columns(once.purpose);
    tx.execute(
        "INSERT INTO once (hash, purpose, about, made_at, expires_at) VALUES (?1, ?2, ?3, ?4, ?5)",
        params![once.hash, word, about, once.made_at, once.expires_at],
    )?;
    Ok(())
}

pub(super) fn once(tx: &Transaction<'_>, hash: &[u8; 32]) -> Result<Option<Once>, StoreError> {
    let mut query =
        tx.prepare_cached("SELECT purpose, about, made_at, expires_at FROM once WHERE hash = ?1")?;
    let mut rows = query.query([hash])?;
    let Some(row) = rows.next()? else {
        return Ok(None);
    };
    let word: String = row.get(0)?;
    let about: Vec<u8> = row.get(1)?;
    Ok(Some(Once {
        hash: *hash,
        purpose: purpose(&word, &about)?,
        made_at: row.get(2)?,
        expires_at: row.get(3)?,
    }))
}

pub(super) fn withdraw_once(tx: &Transaction<'_>, purpose: Purpose) -> Result<(), StoreError> {
    let (word, about) = purpose_columns(purpose);
    tx.execute(
        "DELETE FROM once WHERE purpose = ?1 AND about = ?2",
        params![word, about],
    )?;
    Ok(())
}

pub(super) fn use_once(
    tx: &Transaction<'_>,
    hash: &[u8; 32],
    now: Millis,
) -> Result<Option<Once>, StoreError> {
    let Some(once) = once(tx, hash)?.filter(|once| now < once.expires_at) else {
        return Ok(None);
    };
    tx.execute("DELETE FROM once WHERE hash = ?1", [hash])?;
    Ok(Some(once))
}

pub(super) fn join(
    tx: &Transaction<'_>,
    hash: &[u8; 32],
    person: &Person,
    now: Millis,
) -> Result<Joined, StoreError> {
    if once(tx, hash)?.is_none_or(|once| now >= once.expires_at) {
        return Ok(Joined::NoLink);
    }
    let joined = add(tx, person)?;
    if joined == Joined::Done {
        tx.execute("DELETE FROM once WHERE hash = ?1", [hash])?;
    }
    Ok(joined)
}

pub(super) fn sweep(tx: &Transaction<'_>, now: Millis) -> Result<Swept, StoreError> {
    let sign_ins = tx.execute(
        "DELETE FROM sign_in WHERE ?1 < made_at OR ?1 - seen_at >= ?2 OR ?1 - made_at >= ?3",
        params![now, limits::SIGN_IN_IDLE_MS, limits::SIGN_IN_LIFE_MS],
    )?;
    let links = tx.execute("DELETE FROM once WHERE expires_at <= ?1", [now])?;
    Ok(Swept {
        sign_ins: sign_ins as u64,
        links: links as u64,
    })
}
