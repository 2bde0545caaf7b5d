//! How purposes and actors stand in the columns of every database.

use chalkwalk_core::job::{DeviceId, Role};

use super::{Actor, PersonId, Purpose, ShareId};
use crate::store::StoreError;
use crate::store::encoding::role;

const JOIN: &str = "join";
const FIRST: &str = "first_admin";
const ENTER: &str = "enter";
const PASSWORD: &str = "password";

/// The word for a purpose, and what it is about.
pub(in crate::store) fn purpose_columns(purpose: Purpose) -> (&'static str, Vec<u8>) {
    match purpose {
        Purpose::Join(role) => (JOIN, Role::code(role).as_bytes().to_vec()),
        Purpose::FirstAdmin => (FIRST, Vec::new()),
        Purpose::Enter(id) => (ENTER, id.0.to_vec()),
        Purpose::Password(id) => (PASSWORD, id.0.to_vec()),
    }
}

pub(in crate::store) fn purpose(word: &str, about: &[u8]) -> Result<Purpose, StoreError> {
    let person = || {
        about
            .try_into()
            .map(PersonId)
            .map_err(|_| StoreError::Corrupt("a person's id"))
    };
    match word {
        JOIN => Ok(Purpose::Join(role(&String::from_utf8_lossy(about))?)),
        FIRST => Ok(Purpose::FirstAdmin),
        ENTER => person().map(Purpose::Enter),
        PASSWORD => person().map(Purpose::Password),
        _ => Err(StoreError::Corrupt("a purpose of a newer version")),
    }
}

/// The word for an actor, and the id where there is one.
pub(in crate::store) fn who_columns(who: Actor) -> (&'static str, Option<[u8; 16]>) {
    match who {
        Actor::Office => ("office", None),
        Actor::Nobody => ("nobody", None),
        Actor::Person(id) => ("person", Some(id.0)),
        Actor::Device(id) => ("device", Some(*id.as_bytes())),
        Actor::Share(id) => ("share", Some(id.0)),
    }
}

pub(in crate::store) fn who(word: &str, id: Option<[u8; 16]>) -> Result<Actor, StoreError> {
    match (word, id) {
        ("office", _) => Ok(Actor::Office),
        ("nobody", _) => Ok(Actor::Nobody),
        ("person", Some(id)) => Ok(Actor::Person(PersonId(id))),
        ("device", Some(id)) => Ok(Actor::Device(DeviceId::from_bytes(id))),
        ("share", Some(id)) => Ok(Actor::Share(ShareId(id))),
        _ => Err(StoreError::Corrupt("who did something")),
    }
}
