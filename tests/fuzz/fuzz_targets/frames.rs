#![no_main]

libfuzzer_sys::fuzz_target!(
    init: chalkwalk_decoders::quiet(),
    |bytes: &[u8]| chalkwalk_decoders::decode("frames", bytes)
);
