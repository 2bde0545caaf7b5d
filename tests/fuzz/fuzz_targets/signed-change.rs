#![no_main]

libfuzzer_sys::fuzz_target!(
    init: chalkwalk_tests::decoders::quiet(),
    |bytes: &[u8]| chalkwalk_tests::decoders::decode("signed-change", bytes)
);
