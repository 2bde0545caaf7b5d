//! Held against `rmp-serde`, which writes what is read here.

use std::collections::BTreeMap;

use proptest::prelude::*;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_bytes::{ByteArray, ByteBuf};

use super::*;
use crate::review::random_jobs::random_job;

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
enum Word {
    Bare,
    One(u16),
    Two(i8, String),
    Named { at: f64, seen: Option<bool> },
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct All {
    whole: (u8, u64, i16, i64, f32),
    text: String,
    bytes: ByteBuf,
    fixed: ByteArray<3>,
    words: Vec<Word>,
    map: BTreeMap<String, Option<i32>>,
    nothing: (),
}

fn word() -> impl Strategy<Value = Word> {
    prop_oneof![
        Just(Word::Bare),
        any::<u16>().prop_map(Word::One),
        (any::<i8>(), ".{0,40}").prop_map(|(number, text)| Word::Two(number, text)),
        (-1e9..1e9f64, any::<Option<bool>>()).prop_map(|(at, seen)| Word::Named { at, seen }),
    ]
}

fn all() -> impl Strategy<Value = All> {
    let whole = (
        any::<u8>(),
        any::<u64>(),
        any::<i16>(),
        any::<i64>(),
        -1e9..1e9f32,
    );
    let bytes = prop::collection::vec(any::<u8>(), 0..300);
    let words = prop::collection::vec(word(), 0..20);
    let map = prop::collection::btree_map(".{0,5}", any::<Option<i32>>(), 0..20);
    (whole, ".{0,300}", bytes, any::<[u8; 3]>(), words, map).prop_map(
        |(whole, text, bytes, fixed, words, map)| All {
            whole,
            text,
            bytes: ByteBuf::from(bytes),
            fixed: ByteArray::new(fixed),
            words,
            map,
            nothing: (),
        },
    )
}

/// Both say the same of these bytes.
fn same<T: DeserializeOwned + PartialEq + std::fmt::Debug>(bytes: &[u8]) {
    let theirs = rmp_serde::from_slice::<T>(bytes).ok();
    if let Ok(ours) = from_slice::<T>(bytes) {
        assert_eq!(Some(ours), theirs, "read where the library does not");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn it_reads_what_is_written(value in all()) {
        prop_assert_eq!(&from_slice::<All>(&rmp_serde::to_vec(&value).unwrap()).unwrap(), &value);
        let named = rmp_serde::to_vec_named(&value).unwrap();
        prop_assert_eq!(&from_slice::<All>(&named).unwrap(), &value);
        for end in 0..named.len().min(60) {
            prop_assert!(from_slice::<All>(&named[..end]).is_err());
        }
    }

    #[test]
    fn a_job_reads_back(seed in prop::collection::vec(any::<u32>(), 1..200)) {
        let job = random_job(&seed);
        let named = rmp_serde::to_vec_named(&job).unwrap();
        prop_assert_eq!(from_slice::<crate::job::Job>(&named).unwrap(), job);
    }

    #[test]
    fn it_takes_nothing_that_the_library_refuses(
        value in all(),
        at in any::<prop::sample::Index>(),
        byte in any::<u8>(),
    ) {
        let mut bytes = rmp_serde::to_vec(&value).unwrap();
        let at = at.index(bytes.len());
        bytes[at] = byte;
        same::<All>(&bytes);
    }
}

#[test]
fn what_nests_too_deep_is_refused() {
    let mut bytes = vec![0x91; 200_000];
    bytes.push(0xc0);
    let refused = from_slice::<serde::de::IgnoredAny>(&bytes);
    assert!(matches!(refused, Err(PackedError::Deep)));
    let refused = from_slice::<serde_json::Value>(&bytes);
    assert!(matches!(refused, Err(PackedError::Deep)));
}
