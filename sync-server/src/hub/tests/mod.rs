//! The hub, with documents of real actions and storage in memory.

mod access;
mod crew;
mod files;
mod gate;
mod nodes;
mod pen;
mod room;
mod signers;

/// The frame of a JPEG of one pixel (ITU-T T.81, B.2.2) in a file of so many bytes.
pub(super) fn small_picture(bytes: usize) -> Vec<u8> {
    let mut file = vec![
        0xff, 0xd8, 0xff, 0xc0, 0, 17, 8, 0, 1, 0, 1, 3, 1, 0x22, 0, 2, 0x11, 1, 3, 0x11, 1,
    ];
    file.resize(bytes - 2, 0);
    file.extend([0xff, 0xd9]);
    file
}
