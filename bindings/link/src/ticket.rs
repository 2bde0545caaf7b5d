//! What a device reads in from a picture: the office's address, its pin and a code.

use std::str::FromStr;

const SCHEME: &str = "chalkwalk:enrol?";
/// Longest text that is read, bytes: more than any picture of this kind holds.
const LONGEST: usize = 1_024;

/// The office's address, its pin and a code, as one text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ticket {
    /// Where devices speak to the office, such as `https://office.example/at/alder`.
    pub address: String,
    /// The office key's pin.
    pub pin: String,
    /// The one-time code.
    pub code: String,
}

/// A text that is no ticket.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("this text is not from an enrolment picture of an office: read the picture again")]
pub struct TicketError;

impl Ticket {
    /// The text in the picture.
    pub fn text(&self) -> String {
        let Self { address, pin, code } = self;
        format!("{SCHEME}at={}&pin={pin}&code={code}", percent(address))
    }
}

impl FromStr for Ticket {
    type Err = TicketError;
    fn from_str(text: &str) -> Result<Self, TicketError> {
        let text = text.trim();
        let fields = text
            .strip_prefix(SCHEME)
            .filter(|_| text.len() <= LONGEST)
            .ok_or(TicketError)?;
        let field = |name: &str| {
            let mut found = fields
                .split('&')
                .filter_map(|pair| pair.split_once('='))
                .filter(|(key, _)| *key == name)
                .map(|(_, value)| value);
            // A field that stands twice may mean two things.
            let value = found.next().filter(|_| found.next().is_none());
            value.filter(|value| !value.is_empty()).ok_or(TicketError)
        };
        let ticket = Self {
            address: unpercent(field("at")?).ok_or(TicketError)?,
            pin: field("pin")?.to_owned(),
            code: field("code")?.to_owned(),
        };
        // What stands in a picture is shown to a person and sent on: nothing unseen is in it.
        let unseen = |text: &String| text.chars().any(|c| c.is_control() || c.is_whitespace());
        if [&ticket.address, &ticket.pin, &ticket.code]
            .into_iter()
            .any(unseen)
        {
            return Err(TicketError);
        }
        // It can be shown again as a picture: written out in full it may be longer than it came.
        (ticket.text().len() <= LONGEST)
            .then_some(ticket)
            .ok_or(TicketError)
    }
}

fn percent(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~:/[]".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

fn unpercent(text: &str) -> Option<String> {
    let mut bytes = text.bytes();
    let mut out = Vec::with_capacity(text.len());
    while let Some(byte) = bytes.next() {
        if byte == b'%' {
            let high = char::from(bytes.next()?).to_digit(16)?;
            let low = char::from(bytes.next()?).to_digit(16)?;
            out.push(u8::try_from(high * 16 + low).ok()?);
        } else {
            out.push(byte);
        }
    }
    String::from_utf8(out).ok()
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
    fn a_ticket_reads_back() {
        for address in [
            "http://127.0.0.1:7433",
            "https://[2001:db8::1]:8443/at/alder",
            "https://office.example/at/a&b=c%20ü",
        ] {
            let ticket = ticket(address);
            assert_eq!(ticket.text().parse(), Ok(ticket));
        }
    }

    #[test]
    fn another_text_is_no_ticket() {
        let good = ticket("http://a").text();
        for text in [
            "",
            "https://office.example",
            "chalkwalk:enrol?",
            &good.replace("at=", "to="),
            &good.replace("&code=7K3M-Q2ZD-X9RA", "&code="),
            &format!("{good}&code=0000-0000-0000"),
            &good.replace("http:", "%zz"),
            &good.replace("http:", "http%0A:"),
            &good.replace("7K3M", "7K\u{b}M"),
            &good.replace("0123", "01 3"),
            &format!("{good}&more={}", "a".repeat(LONGEST)),
            // What a fuzz target found: too long once it is written out in full.
            &good.replace("http:", &";".repeat(400)),
        ] {
            assert_eq!(text.parse::<Ticket>(), Err(TicketError), "{text}");
        }
    }
}
