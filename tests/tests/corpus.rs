//! What the fuzz targets found worth keeping, read again by each decoder; and that every decoder
//! has its target and its corpus.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use chalkwalk_decoders::{DECODERS, quiet};

/// Most bytes of all corpora together: they stand in the repository.
const CORPUS_BYTES: u64 = 1_500_000;

fn fuzz() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz")
}

fn names(folder: &Path) -> BTreeSet<String> {
    let entries = std::fs::read_dir(folder).unwrap();
    entries
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect()
}

#[test]
fn every_decoder_has_a_target_and_a_corpus_and_reads_it() {
    quiet();
    let mut bytes = 0;
    for (name, decode) in DECODERS {
        let folder = fuzz().join("corpus").join(name);
        assert!(folder.is_dir(), "{name} has no corpus");
        let files = names(&folder);
        assert!(!files.is_empty(), "the corpus of {name} is empty");
        for file in files {
            let input = std::fs::read(folder.join(&file)).unwrap();
            bytes += input.len() as u64;
            let read = std::panic::catch_unwind(|| decode(&input));
            assert!(
                read.is_ok(),
                "{name} fails on {file}: hostile --decoder {name} tests/fuzz/corpus/{name}/{file}"
            );
        }
    }
    assert!(bytes <= CORPUS_BYTES, "the corpora have {bytes} bytes");
}

#[test]
fn targets_and_corpora_are_those_of_the_decoders() {
    let decoders: BTreeSet<String> = DECODERS
        .iter()
        .map(|(name, _)| (*name).to_owned())
        .collect();
    assert_eq!(names(&fuzz().join("corpus")), decoders);
    let files: BTreeSet<String> = decoders.iter().map(|name| format!("{name}.rs")).collect();
    assert_eq!(names(&fuzz().join("fuzz_targets")), files);
    let manifest = std::fs::read_to_string(fuzz().join("Cargo.toml")).unwrap();
    for name in &decoders {
        assert!(manifest.contains(&format!("name = \"{name}\"")), "{name}");
        let target = fuzz().join("fuzz_targets").join(format!("{name}.rs"));
        let target = std::fs::read_to_string(target).unwrap();
        assert!(
            target.contains(&format!("decode(\"{name}\", bytes)")),
            "{name}"
        );
    }
}
