//! HTTP over one connection that stays open, with as little work here as there can be.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;

use super::Device;

/// A connection to a server of this machine.
pub struct Http {
    out: TcpStream,
    back: BufReader<TcpStream>,
}

impl Http {
    /// Connects.
    pub fn new(port: u16) -> Self {
        let out = TcpStream::connect(("127.0.0.1", port)).unwrap();
        out.set_nodelay(true).unwrap();
        let back = BufReader::new(out.try_clone().unwrap());
        Self { out, back }
    }

    /// Asks once: the status, the head and the body.
    pub fn ask(
        &mut self,
        method: &str,
        path: &str,
        headers: &str,
        body: &[u8],
    ) -> (u16, String, Vec<u8>) {
        let head = format!(
            "{method} {path} HTTP/1.1\r\nhost: 127.0.0.1\r\ncontent-length: {}\r\n{headers}\r\n",
            body.len()
        );
        self.out.write_all(head.as_bytes()).unwrap();
        self.out.write_all(body).unwrap();
        let mut head = String::new();
        while !head.ends_with("\r\n\r\n") {
            assert_ne!(
                self.back.read_line(&mut head).unwrap(),
                0,
                "cut off: {head}"
            );
        }
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        let length = head.lines().find_map(|line| {
            let (name, value) = line.split_once(':')?;
            name.eq_ignore_ascii_case("content-length")
                .then(|| value.trim().parse::<usize>().unwrap())
        });
        let mut body = vec![0; length.unwrap_or(0)];
        self.back.read_exact(&mut body).unwrap();
        if length.is_none() && head.to_ascii_lowercase().contains("chunked") {
            body = self.chunks();
        }
        (status, head, body)
    }

    fn chunks(&mut self) -> Vec<u8> {
        let mut whole = Vec::new();
        loop {
            let mut line = String::new();
            self.back.read_line(&mut line).unwrap();
            let length = usize::from_str_radix(line.trim(), 16).unwrap();
            let mut chunk = vec![0; length + 2];
            self.back.read_exact(&mut chunk).unwrap();
            if length == 0 {
                return whole;
            }
            whole.extend_from_slice(&chunk[..length]);
        }
    }
}

/// A token for a device's uploads.
pub fn token(port: u16, device: &Device) -> String {
    let mut http = Http::new(port);
    let asked = format!(r#"{{"device":"{}"}}"#, device.author.device);
    let said = |body: &[u8], name: &str| -> String {
        let said: serde_json::Value = serde_json::from_slice(body).unwrap();
        said[name].as_str().unwrap().to_owned()
    };
    let (_, _, body) = http.ask("POST", "/token/challenge", "", asked.as_bytes());
    let challenge = said(&body, "challenge");
    let bytes = chalkwalk_core::job::unhex(&challenge).unwrap();
    let company = device.certificate.company;
    let signature = chalkwalk_core::sync::answer_challenge(&device.key, company, &bytes);
    let signature = chalkwalk_core::job::hex(&signature);
    let asked = format!(r#"{{"challenge":"{challenge}","signature":"{signature}"}}"#);
    let (status, _, body) = http.ask("POST", "/token", "", asked.as_bytes());
    assert_eq!(status, 200, "{}", String::from_utf8_lossy(&body));
    said(&body, "token")
}
