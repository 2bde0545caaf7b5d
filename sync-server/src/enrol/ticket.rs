//! The picture of a ticket, which a device reads in.

use chalkwalk_link::Ticket;
use qrcode::types::Color;
use qrcode::{EcLevel, QrCode};

/// Light modules around the picture: ISO/IEC 18004 asks for four.
const QUIET: usize = 4;

/// The picture: a QR code as SVG. `None` where the text is too long for one.
pub fn picture(ticket: &Ticket) -> Option<String> {
    let text = ticket.text();
    let code = QrCode::with_error_correction_level(text.as_bytes(), EcLevel::M).ok()?;
    let width = code.width();
    let whole = width + 2 * QUIET;
    let mut dark = String::new();
    for (at, color) in code.to_colors().into_iter().enumerate() {
        if color == Color::Dark {
            let (x, y) = (at % width + QUIET, at / width + QUIET);
            dark.push_str(&format!("M{x} {y}h1v1h-1z"));
        }
    }
    Some(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {whole} {whole}\" \
         shape-rendering=\"crispEdges\" role=\"img\"><title>Enrolment code for one \
         device</title><path fill=\"#fff\" d=\"M0 0h{whole}v{whole}h-{whole}z\"/><path \
         fill=\"#000\" d=\"{dark}\"/></svg>"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ticket(address: &str) -> Ticket {
        Ticket {
            address: address.to_owned(),
            pin: "0123456789abcdef0123456789abcdef".to_owned(),
            code: "7K3M-Q2ZD-X9RA".to_owned(),
        }
    }

    #[test]
    fn the_picture_is_one_to_four_thousand_modules_and_an_endless_address_has_none() {
        let svg = picture(&ticket("http://127.0.0.1:7433")).unwrap();
        assert!(svg.starts_with("<svg ") && svg.contains("M4 4h1v1h-1z"));
        assert_eq!(picture(&ticket(&"a".repeat(4_000))), None);
    }
}
