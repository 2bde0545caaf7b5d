//! Values that cross as text or bytes: ids, pointers, days and measures. A text that does not read
//! is an [`ChalkwalkError::Input`].

use chalkwalk_core::job::{
    Area, CompanyId, DeviceId, JobId, Length, PhotoHash, Pitch, RecordId, RecordRef,
};

use crate::ChalkwalkError;

/// Bytes of a record's field.
pub type Bytes = serde_bytes::ByteBuf;
/// A local day, as 2026-05-02.
pub(crate) type Day = chrono::NaiveDate;

fn read<T: std::str::FromStr<Err: std::fmt::Display>>(text: &str) -> uniffi::Result<T> {
    text.parse()
        .map_err(|error: T::Err| ChalkwalkError::input(error).into())
}

macro_rules! by_text {
    ($($name:ident),*) => {$(
        uniffi::custom_type!($name, String, {
            remote,
            try_lift: |text| read(&text),
            lower: |value| value.to_string(),
        });
    )*};
}
by_text!(
    JobId, DeviceId, CompanyId, RecordId, RecordRef, PhotoHash, Length, Pitch, Area
);

uniffi::custom_type!(Day, String, {
    remote,
    try_lift: |text| text.parse().map_err(|_| {
        ChalkwalkError::input("a day is written like 2026-05-02").into()
    }),
    lower: |day| day.to_string(),
});

uniffi::custom_type!(Bytes, Vec<u8>, {
    remote,
    try_lift: |bytes| Ok(Bytes::from(bytes)),
    lower: |bytes| bytes.into_vec(),
});
