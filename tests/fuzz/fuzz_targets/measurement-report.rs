#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| chalkwalk_tests::decoders::decode("measurement-report", bytes));
