//! People, sign-ins and one-time links.

use chalkwalk_core::job::{Millis, Role};
use tokio_postgres::Row;
use tokio_postgres::types::Type;

use super::super::pool::Lease;
use super::super::row::{bytes, count, many_bytes, number, number_or_none, text, text_or_none};
use crate::limits;
use crate::store::accounts::words::{purpose, purpose_columns};
use crate::store::encoding::role;
use crate::store::{Joined, Once, Person, PersonId, Purpose, SignIn, StoreError, Swept, logins};

const PERSON: &str =
    "SELECT p.id, p.name, p.mail, p.role, p.password, p.made_at, p.shut_out_at FROM @person p";

fn read_person(row: &Row, at: usize) -> Result<Person, StoreError> {
    Ok(Person {
        id: PersonId(bytes(row, at)?),
        name: text(row, at + 1)?,
        mail: text_or_none(row, at + 2)?,
        role: role(&text(row, at + 3)?)?,
        password: text_or_none(row, at + 4)?,
        made_at: number(row, at + 5)?,
        shut_out_at: number_or_none(row, at + 6)?,
    })
}

pub(super) async fn person(db: &Lease, id: PersonId) -> Result<Option<Person>, StoreError> {
    let row = db
        .maybe(
            &format!("{PERSON} WHERE p.id = $1"),
            &[(&id.0.as_slice(), Type::BYTEA)],
        )
        .await?;
    row.map(|row| read_person(&row, 0)).transpose()
}

pub(super) async fn called(db: &Lease, login: &str) -> Result<Option<Person>, StoreError> {
    let row = db
        .maybe(
            &format!("{PERSON} JOIN @login l ON l.person = p.id WHERE l.folded = $1"),
            &[(&Person::folded(login), Type::TEXT)],
        )
        .await?;
    row.map(|row| read_person(&row, 0)).transpose()
}

pub(super) async fn all(db: &Lease) -> Result<Vec<Person>, StoreError> {
    let rows = db.all(&format!("{PERSON} ORDER BY p.id"), &[]).await?;
    rows.iter().map(|row| read_person(row, 0)).collect()
}

/// People are added one after another, at whatever node: names and the limit hold for all.
pub(super) async fn add(db: &Lease, person: &Person) -> Result<Joined, StoreError> {
    db.begin_locked(db.lock_of(&[b"people"])).await?;
    let done = add_within(db, person).await;
    db.end(done).await
}

async fn add_within(db: &Lease, person: &Person) -> Result<Joined, StoreError> {
    let known = db.one("SELECT count(*) FROM @person", &[]).await?;
    if count(&known, 0)? >= limits::PEOPLE as u64 {
        return Err(StoreError::Limit("people of one company"));
    }
    let logins = logins(person);
    let taken = db
        .maybe(
            "SELECT 1 FROM @login WHERE folded = ANY($1) LIMIT 1",
            &[(&logins, Type::TEXT_ARRAY)],
        )
        .await?;
    if taken.is_some() {
        return Ok(Joined::Taken);
    }
    let id = person.id.0.as_slice();
    db.change(
        "INSERT INTO @person (id, name, mail, role, password, made_at, shut_out_at)
         VALUES ($1, $2, $3, $4, $5, $6, $7)",
        &[
            (&id, Type::BYTEA),
            (&person.name, Type::TEXT),
            (&person.mail, Type::TEXT),
            (&person.role.code(), Type::TEXT),
            (&person.password, Type::TEXT),
            (&person.made_at, Type::INT8),
            (&person.shut_out_at, Type::INT8),
        ],
    )
    .await?;
    db.change(
        "INSERT INTO @login (folded, person) SELECT folded, $2 FROM unnest($1) folded",
        &[(&logins, Type::TEXT_ARRAY), (&id, Type::BYTEA)],
    )
    .await?;
    Ok(Joined::Done)
}

pub(super) async fn set_password(db: &Lease, id: PersonId, hash: &str) -> Result<bool, StoreError> {
    let changed = db
        .change(
            "UPDATE @person SET password = $2 WHERE id = $1",
            &[(&id.0.as_slice(), Type::BYTEA), (&hash, Type::TEXT)],
        )
        .await?;
    Ok(changed > 0)
}

pub(super) async fn set_role(db: &Lease, id: PersonId, role: Role) -> Result<bool, StoreError> {
    let changed = db
        .change(
            "UPDATE @person SET role = $2 WHERE id = $1",
            &[(&id.0.as_slice(), Type::BYTEA), (&role.code(), Type::TEXT)],
        )
        .await?;
    Ok(changed > 0)
}

/// One statement: nobody is shut out and still signed in, or the other way round.
pub(super) async fn set_shut_out(
    db: &Lease,
    id: PersonId,
    at: Option<Millis>,
) -> Result<bool, StoreError> {
    let row = db
        .one(
            "WITH ended AS (
                DELETE FROM @sign_in WHERE person = $1 AND $2::int8 IS NOT NULL),
             changed AS (UPDATE @person SET shut_out_at = $2 WHERE id = $1 RETURNING id)
             SELECT count(*) FROM changed",
            &[(&id.0.as_slice(), Type::BYTEA), (&at, Type::INT8)],
        )
        .await?;
    Ok(count(&row, 0)? > 0)
}

pub(super) async fn put_sign_in(
    db: &Lease,
    sign_in: &SignIn,
    most: usize,
) -> Result<(), StoreError> {
    db.begin_locked(db.lock_of(&[b"sign_in", &sign_in.person.0]))
        .await?;
    let done = put_sign_in_within(db, sign_in, most).await;
    db.end(done).await
}

async fn put_sign_in_within(db: &Lease, sign_in: &SignIn, most: usize) -> Result<(), StoreError> {
    let person = sign_in.person.0.as_slice();
    db.change(
        "INSERT INTO @sign_in (hash, person, made_at, seen_at) VALUES ($1, $2, $3, $4)",
        &[
            (&sign_in.hash.as_slice(), Type::BYTEA),
            (&person, Type::BYTEA),
            (&sign_in.made_at, Type::INT8),
            (&sign_in.seen_at, Type::INT8),
        ],
    )
    .await?;
    let most = i64::try_from(most).unwrap_or(i64::MAX);
    db.change(
        "DELETE FROM @sign_in WHERE hash IN (SELECT hash FROM @sign_in WHERE person = $1
         ORDER BY seen_at DESC, hash OFFSET $2)",
        &[(&person, Type::BYTEA), (&most, Type::INT8)],
    )
    .await
    .map(drop)
}

pub(super) async fn sign_in(
    db: &Lease,
    hash: &[u8; 32],
) -> Result<Option<(SignIn, Person)>, StoreError> {
    let row = db
        .maybe(
            "SELECT s.hash, s.person, s.made_at, s.seen_at, p.id, p.name, p.mail, p.role,
                p.password, p.made_at, p.shut_out_at
             FROM @sign_in s JOIN @person p ON p.id = s.person WHERE s.hash = $1",
            &[(&hash.as_slice(), Type::BYTEA)],
        )
        .await?;
    let Some(row) = row else { return Ok(None) };
    let sign_in = SignIn {
        hash: bytes(&row, 0)?,
        person: PersonId(bytes(&row, 1)?),
        made_at: number(&row, 2)?,
        seen_at: number(&row, 3)?,
    };
    Ok(Some((sign_in, read_person(&row, 4)?)))
}

pub(super) async fn touch_sign_in(
    db: &Lease,
    hash: &[u8; 32],
    at: Millis,
) -> Result<(), StoreError> {
    db.change(
        "UPDATE @sign_in SET seen_at = greatest(seen_at, $2) WHERE hash = $1",
        &[(&hash.as_slice(), Type::BYTEA), (&at, Type::INT8)],
    )
    .await
    .map(drop)
}

pub(super) async fn end_sign_in(db: &Lease, hash: &[u8; 32]) -> Result<(), StoreError> {
    db.change(
        "DELETE FROM @sign_in WHERE hash = $1",
        &[(&hash.as_slice(), Type::BYTEA)],
    )
    .await
    .map(drop)
}

pub(super) async fn end_sign_ins(
    db: &Lease,
    id: PersonId,
    but: Option<[u8; 32]>,
) -> Result<(), StoreError> {
    let but = but.as_ref().map(<[u8; 32]>::as_slice);
    db.change(
        "DELETE FROM @sign_in WHERE person = $1 AND ($2 IS NULL OR hash <> $2)",
        &[(&id.0.as_slice(), Type::BYTEA), (&but, Type::BYTEA)],
    )
    .await
    .map(drop)
}

pub(super) async fn put_once(db: &Lease, once: &Once) -> Result<(), StoreError> {
    let (word, about) = purpose_columns(once.purpose);
    db.change(
        "INSERT INTO @once (hash, purpose, about, made_at, expires_at)
         VALUES ($1, $2, $3, $4, $5)",
        &[
            (&once.hash.as_slice(), Type::BYTEA),
            (&word, Type::TEXT),
            (&about, Type::BYTEA),
            (&once.made_at, Type::INT8),
            (&once.expires_at, Type::INT8),
        ],
    )
    .await
    .map(drop)
}

fn read_once(row: &Row) -> Result<Once, StoreError> {
    Ok(Once {
        hash: bytes(row, 0)?,
        purpose: purpose(&text(row, 1)?, &many_bytes(row, 2)?)?,
        made_at: number(row, 3)?,
        expires_at: number(row, 4)?,
    })
}

/// A link; `lock` keeps others off it until the transaction ends.
pub(super) async fn once(
    db: &Lease,
    hash: &[u8; 32],
    lock: bool,
) -> Result<Option<Once>, StoreError> {
    let lock = if lock { " FOR UPDATE" } else { "" };
    let query = "SELECT hash, purpose, about, made_at, expires_at FROM @once WHERE hash = $1";
    let row = db
        .maybe(
            &format!("{query}{lock}"),
            &[(&hash.as_slice(), Type::BYTEA)],
        )
        .await?;
    row.as_ref().map(read_once).transpose()
}

pub(super) async fn withdraw_once(db: &Lease, purpose: Purpose) -> Result<(), StoreError> {
    let (word, about) = purpose_columns(purpose);
    db.change(
        "DELETE FROM @once WHERE purpose = $1 AND about = $2",
        &[(&word, Type::TEXT), (&about, Type::BYTEA)],
    )
    .await
    .map(drop)
}

/// One statement: of several at once, at whatever node, one deletes the row.
pub(super) async fn use_once(
    db: &Lease,
    hash: &[u8; 32],
    now: Millis,
) -> Result<Option<Once>, StoreError> {
    let row = db
        .maybe(
            "DELETE FROM @once WHERE hash = $1 AND expires_at > $2
             RETURNING hash, purpose, about, made_at, expires_at",
            &[(&hash.as_slice(), Type::BYTEA), (&now, Type::INT8)],
        )
        .await?;
    row.as_ref().map(read_once).transpose()
}

pub(super) async fn join(
    db: &Lease,
    hash: &[u8; 32],
    person: &Person,
    now: Millis,
) -> Result<Joined, StoreError> {
    db.begin_locked(db.lock_of(&[b"people"])).await?;
    let done = join_within(db, hash, person, now).await;
    db.end(done).await
}

async fn join_within(
    db: &Lease,
    hash: &[u8; 32],
    person: &Person,
    now: Millis,
) -> Result<Joined, StoreError> {
    let link = once(db, hash, true).await?;
    if link.is_none_or(|once| now >= once.expires_at) {
        return Ok(Joined::NoLink);
    }
    let joined = add_within(db, person).await?;
    if joined == Joined::Done {
        db.change(
            "DELETE FROM @once WHERE hash = $1",
            &[(&hash.as_slice(), Type::BYTEA)],
        )
        .await?;
    }
    Ok(joined)
}

pub(super) async fn sweep(db: &Lease, now: Millis) -> Result<Swept, StoreError> {
    let sign_ins = db
        .change(
            "DELETE FROM @sign_in WHERE $1 < made_at OR $1 - seen_at >= $2 OR $1 - made_at >= $3",
            &[
                (&now, Type::INT8),
                (&limits::SIGN_IN_IDLE_MS, Type::INT8),
                (&limits::SIGN_IN_LIFE_MS, Type::INT8),
            ],
        )
        .await?;
    let links = db
        .change(
            "DELETE FROM @once WHERE expires_at <= $1",
            &[(&now, Type::INT8)],
        )
        .await?;
    Ok(Swept { sign_ins, links })
}
