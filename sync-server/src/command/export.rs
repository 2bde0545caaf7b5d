//! Packets: written, and checked.

use std::fmt::Write;
use std::path::Path;

use chalkwalk_core::job::unhex;
use chalkwalk_core::packet::{self, Choices, PacketKind as Kind, Report};
use ed25519_dalek::VerifyingKey;
use serde_json::json;

use super::args::{ExportArgs, PacketKind, Paper, VerifyArgs};
use super::jobs::{close, open};
use super::output::{Failure, Output};
use crate::press::Press;

pub(super) fn export(dir: &Path, args: &ExportArgs, out: Output) -> Result<(), Failure> {
    let mut notebook = open(dir)?;
    let kinds: &[Kind] = match args.packet {
        PacketKind::Shared => &[Kind::Shared],
        PacketKind::Owner => &[Kind::Owner],
        PacketKind::Production => &[Kind::Production],
        PacketKind::Archive => &[Kind::Archive],
        PacketKind::Both => &[Kind::Shared, Kind::Archive],
        PacketKind::All => Kind::ALL,
    };
    let choices = Choices {
        without_places: args.without_places,
        paper: match args.paper {
            Paper::Letter => packet::PaperSize::Letter,
            Paper::A4 => packet::PaperSize::A4,
        },
        ..Choices::default()
    };
    let mut rows = Vec::new();
    let mut words = String::new();
    for kind in kinds {
        let bar = out.bar(0, kind.folder());
        let making = (&choices, &Press as &dyn packet::Renderer);
        let written =
            notebook.write_packet(args.job, *kind, &args.out, making, &mut |done, of| {
                bar.set_length(of as u64);
                bar.set_position(done as u64);
                true
            })?;
        bar.finish_and_clear();
        if args.zip {
            let to = args.out.join(format!("{}.zip", kind.folder()));
            packet::zip_bag(&written.folder, kind.folder(), &to, &mut |_, _| true)?;
        }
        writeln!(
            words,
            "{}: {} files, {} photos, {} bytes",
            written.folder.display(),
            written.files,
            written.photos,
            written.bytes
        )?;
        for (name, why) in &written.lacking {
            writeln!(words, "  without its original: {name} ({why})")?;
        }
        rows.push(json!({
            "folder": written.folder, "files": written.files, "photos": written.photos,
            "bytes": written.bytes, "lacking": written.lacking,
        }));
    }
    close(notebook)?;
    out.give(&rows, || words)
}

pub(super) fn verify(args: &VerifyArgs, out: Output) -> Result<(), Failure> {
    let key = args.office_key.as_deref().map(office_key).transpose()?;
    if !args.packet.is_dir() {
        return Err(Failure::new(format!(
            "{} is not a folder: name the folder of a packet; one that came as a zip is unpacked first",
            args.packet.display()
        )));
    }
    let report = packet::verify(&args.packet, key.as_ref());
    out.give(&report, || report_words(&report))?;
    if report.good() {
        Ok(())
    } else {
        Err(Failure::not_in_order("the packet is not in order"))
    }
}

fn office_key(text: &str) -> Result<VerifyingKey, Failure> {
    let bad =
        || Failure::new("the office's key is 64 hexadecimal digits, as the office gives it out");
    let bytes: [u8; 32] = unhex(text).ok_or_else(bad)?.try_into().map_err(|_| bad())?;
    VerifyingKey::from_bytes(&bytes).map_err(|_| bad())
}

/// What a check found.
pub(super) fn report_words(report: &Report) -> String {
    let mut words = format!(
        "{} files, {} photos vouched for, {} signatures of custody, {}: {}\n",
        report.files,
        report.photos,
        report.signatures,
        if report.sealed {
            "sealed"
        } else {
            "no seal that anybody vouches for"
        },
        if report.good() {
            "all in order"
        } else {
            "NOT in order"
        }
    );
    for failure in &report.failures {
        let _ = writeln!(words, "  {}: {}", failure.file, failure.reason);
    }
    for note in &report.notes {
        let _ = writeln!(words, "  note: {note}");
    }
    words
}
