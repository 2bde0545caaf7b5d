use super::*;
use crate::photo::samples::{self, byte, phone_fields, ratios, short, text};
use ::exif::Field;

fn of(fields: &[Field]) -> Said {
    let data = samples::jpeg_with(&samples::scene(16, 16, 1), fields);
    let (said, warning) = read(&data);
    assert_eq!(warning, None);
    said
}

/// The same fields are read with exiftool and Pillow in `tests/outside/test_photo.py`.
#[test]
fn a_phone_photo_says_it_all() {
    let mut fields = phone_fields("2024:06:11 14:30:05", 38.5, -97.25);
    fields.push(short(Tag::Orientation, 6));
    fields.push(text(Tag::GPSDateStamp, "2024:06:11"));
    fields.push(ratios(Tag::GPSTimeStamp, &[(19, 1), (30, 1), (45, 10)]));
    let said = of(&fields);
    // date -u -d 2024-06-11T14:30:05 +%s
    assert_eq!(said.local_time, Some(1_718_116_205_250));
    assert_eq!(said.utc_offset_min, Some(-300));
    assert_eq!(said.satellite_time, Some(1_718_134_204_500));
    let place = said.place.unwrap();
    assert_eq!((place.latitude, place.longitude), (38.5, -97.25));
    assert_eq!(
        (place.altitude_m, place.accuracy_m),
        (Some(231.5), Some(4.7))
    );
    assert_eq!(
        (said.bearing, said.bearing_from),
        (Some(263.25), Some(North::True))
    );
    assert_eq!(said.orientation, Some(6));
    assert_eq!(said.camera.as_deref(), Some("Example Phone 1"));
}

#[test]
fn refs_turn_signs() {
    let mut fields = phone_fields("2024:06:11 14:30:05", -38.5, 97.25);
    fields.retain(|f| f.tag != Tag::GPSAltitudeRef && f.tag != Tag::GPSImgDirectionRef);
    fields.push(byte(Tag::GPSAltitudeRef, 1));
    fields.push(text(Tag::GPSImgDirectionRef, "M"));
    let said = of(&fields);
    let place = said.place.unwrap();
    assert_eq!((place.latitude, place.longitude), (-38.5, 97.25));
    assert_eq!(place.altitude_m, Some(-231.5));
    assert_eq!(said.bearing_from, Some(North::Magnetic));
}

#[test]
fn fractions_count_by_their_digits() {
    for (fraction, millis) in [("5", 500), ("05", 50), ("123456", 123), ("x", 0)] {
        let said = of(&[
            text(Tag::DateTimeOriginal, "1970:01:01 00:00:01"),
            text(Tag::SubSecTimeOriginal, fraction),
        ]);
        assert_eq!(said.local_time, Some(1000 + millis), "{fraction}");
        assert_eq!(said.utc_offset_min, None);
    }
}

#[test]
fn values_out_of_range_are_left_out() {
    for date in [
        "2024:02:30 10:00:00",
        "2024:13:01 10:00:00",
        "2024:01:01 25:00:00",
        "    :  :     :  :  ",
        "yesterday",
    ] {
        assert_eq!(
            of(&[text(Tag::DateTimeOriginal, date)]).local_time,
            None,
            "{date}"
        );
    }
    for (tag, value) in [
        (Tag::GPSLatitude, &[(91, 1), (0, 1), (0, 1)][..]),
        (Tag::GPSLatitude, &[(40, 1), (0, 0), (0, 1)]),
        (Tag::GPSLongitude, &[(180, 1), (1, 60), (1, 1)]),
    ] {
        let mut fields = phone_fields("2024:06:11 14:30:05", 40.0, -90.0);
        fields.retain(|f| f.tag != tag);
        fields.push(ratios(tag, value));
        let said = of(&fields);
        assert_eq!(said.place, None);
        assert!(said.local_time.is_some());
    }
    assert_eq!(
        of(&phone_fields("2024:06:11 14:30:05", 0.0, 0.0)).place,
        None
    );
    assert_eq!(of(&[short(Tag::Orientation, 9)]).orientation, None);
    let far = of(&[ratios(Tag::GPSImgDirection, &[(361, 1)])]);
    assert_eq!(far.bearing, None);
    let offset = of(&[
        text(Tag::DateTimeOriginal, "2024:06:11 14:30:05"),
        text(Tag::OffsetTimeOriginal, "+14:01"),
    ]);
    assert_eq!(
        (offset.local_time.is_some(), offset.utc_offset_min),
        (true, None)
    );
}

#[test]
fn the_time_of_digitising_stands_in() {
    let said = of(&[
        text(Tag::DateTimeDigitized, "1970:01:01 00:00:02"),
        text(Tag::OffsetTimeDigitized, "+05:30"),
        text(Tag::DateTime, "1999:01:01 00:00:00"),
    ]);
    assert_eq!(
        (said.local_time, said.utc_offset_min),
        (Some(2000), Some(330))
    );
}

#[test]
fn camera_names_are_clean_and_short() {
    let name =
        |make: &str, model: &str| of(&[text(Tag::Make, make), text(Tag::Model, model)]).camera;
    assert_eq!(name("Example", "EXAMPLE X1").as_deref(), Some("EXAMPLE X1"));
    assert_eq!(
        name(" Example\u{1} ", "X1  ").as_deref(),
        Some("Example X1")
    );
    assert_eq!(name("", " "), None);
    assert_eq!(name("", &"x".repeat(300)).unwrap().len(), CAMERA_CHARACTERS);
}

#[test]
fn broken_exif_gives_what_can_be_read() {
    let picture = samples::jpeg(&samples::scene(16, 16, 1), 80);
    assert_eq!(read(&picture).1, Some(PhotoWarning::NoExif));
    let rubbish = samples::splice(&picture, b"II*\0\xFF\xFF\xFF\xFF");
    assert_eq!(
        read(&rubbish),
        (Said::default(), Some(PhotoWarning::BrokenExif))
    );
    // The GPS directory is cut off; the rest stands.
    let mut tiff = samples::tiff(&phone_fields("2024:06:11 14:30:05", 40.0, -90.0));
    tiff.truncate(tiff.len() - 8);
    let (said, warning) = read(&samples::splice(&picture, &tiff));
    assert_eq!(warning, Some(PhotoWarning::BrokenExif));
    assert_eq!(said.camera.as_deref(), Some("Example Phone 1"));
}
