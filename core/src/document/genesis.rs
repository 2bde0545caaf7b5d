//! The change that every document starts from, the same to the byte on every device, so that
//! two devices may begin the same job offline and merge.

use automerge::transaction::{CommitOptions, Transactable};
use automerge::{ActorId, Automerge, AutomergeError, ObjType, ROOT};

use super::Author;
use crate::job::{Job, Kind, Side};

/// Version of the document's layout. From the first release on, a newer layout adds a second
/// genesis change; it never alters the first.
pub const SCHEMA: u32 = 1;

pub(super) const KEY_SCHEMA: &str = "schema";
pub(super) const KEY_JOB: &str = "job";
pub(super) const KEY_CREW: &str = "crew";

/// The hash of the genesis change, which never alters: documents of other devices hang from it.
pub(super) const HASH: [u8; 32] = [
    0xea, 0x86, 0xd1, 0xa1, 0xce, 0xd7, 0xa7, 0x27, 0x65, 0x0c, 0xf1, 0x73, 0x62, 0x53, 0x1c, 0x8c,
    0xa3, 0x39, 0x49, 0xc6, 0xb2, 0x53, 0x43, 0xc4, 0xa5, 0xb4, 0xa6, 0x4c, 0xc0, 0xad, 0xcd, 0x18,
];

/// A document with the genesis change alone.
pub(super) fn genesis() -> Result<Automerge, AutomergeError> {
    let mut doc = Automerge::new().with_actor(ActorId::from(Author::GENESIS.to_bytes().as_slice()));
    let mut tx = doc.transaction();
    tx.put(ROOT, KEY_SCHEMA, i64::from(SCHEMA))?;
    tx.put_object(ROOT, KEY_CREW, ObjType::Map)?;
    for kind in Kind::ALL {
        let collection = tx.put_object(ROOT, kind.collection(), ObjType::Map)?;
        match kind {
            Kind::Property | Kind::Interview | Kind::Recap => {
                tx.put_object(&collection, Job::only().as_str(), ObjType::Map)?;
            }
            Kind::Elevation => {
                for side in Side::ALL {
                    let elevation = tx.put_object(&collection, side.code(), ObjType::Map)?;
                    tx.put(&elevation, "side", side.code())?;
                }
            }
            _ => {}
        }
    }
    tx.commit_with(CommitOptions::default().with_time(0).with_message("begin"));
    Ok(doc)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn genesis_never_alters() {
        let heads = genesis().unwrap().get_heads();
        assert_eq!(heads.len(), 1);
        assert_eq!(heads[0].0, HASH);
    }
}
