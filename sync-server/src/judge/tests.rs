//! Frames and documents of a worker; real processes are in `tests/office/judging.rs`.

use std::io::Cursor;

use chalkwalk_core::document::Refusal;
use chalkwalk_core::job::DeviceId;

use super::wire::{Answer, Said, packed, receive};
use crate::limits;

#[test]
fn refusals_come_through_as_they_were() {
    let device = DeviceId::from_bytes([3; 16]);
    for refusal in [
        Refusal::Limit("a".into()),
        Refusal::Malformed("b".into()),
        Refusal::Unsigned("c".into()),
        Refusal::Forked { device, number: 7 },
        Refusal::Forbidden("d".into()),
        Refusal::Gap,
        Refusal::Storage("e".into()),
    ] {
        let answer = Answer::Refused(refusal.clone().into());
        let frame = packed(&answer, limits::WORKER_ANSWER_BYTES).unwrap();
        let back: Answer = receive(&mut Cursor::new(frame), limits::WORKER_ANSWER_BYTES)
            .unwrap()
            .unwrap();
        let Answer::Refused(said) = back else {
            panic!("{back:?}");
        };
        assert_eq!(Refusal::from(said), refusal);
    }
}

#[test]
fn a_frame_one_past_its_limit_is_neither_sent_nor_read() {
    let most = limits::WORKER_ANSWER_BYTES;
    // One byte says which answer, one which refusal; with their names and length as MessagePack.
    let words = |length| Answer::Refused(Said::Limit("x".repeat(length)));
    let around = packed(&words(most / 2), most).unwrap().len() - 4 - most / 2;
    assert!(packed(&words(most - around), most).is_ok());
    assert!(packed(&words(most - around + 1), most).is_err());
    for (length, taken) in [(most, true), (most + 1, false)] {
        let mut frame = u32::try_from(length).unwrap().to_be_bytes().to_vec();
        frame.resize(4 + length, 0xc0);
        let error = receive::<Answer>(&mut Cursor::new(frame), most).unwrap_err();
        assert_eq!(!error.to_string().contains("more than"), taken, "{error}");
    }
    let large = limits::WORKER_FRAME_BYTES;
    let length = u32::try_from(large + 1).unwrap().to_be_bytes();
    let error = receive::<Answer>(&mut Cursor::new(length), large).unwrap_err();
    assert!(error.to_string().contains("more than"), "{error}");
}

#[test]
fn a_frame_that_ends_early_is_an_error_and_no_frame_is_none() {
    let none: Option<Answer> = receive(&mut Cursor::new([]), 10).unwrap();
    assert_eq!(none, None);
    assert!(receive::<Answer>(&mut Cursor::new([0, 0, 0, 9, 1]), 10).is_err());
}
