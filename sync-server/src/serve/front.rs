//! What stands between the server and the network: an own TLS, a proxy, or nothing.

use std::net::{IpAddr, SocketAddr};

use axum::http::{HeaderMap, Method, Uri, header};

/// Who is at the other end of a connection.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Peer(pub(crate) SocketAddr);

/// How requests reach the server.
#[derive(Clone, Debug, Default)]
pub(crate) struct Front {
    /// The server speaks TLS itself.
    pub(crate) tls: bool,
    /// A proxy stands before it, whose `X-Forwarded-*` headers count.
    pub(crate) behind_proxy: bool,
    /// Hash of the token with which metrics may be read from elsewhere.
    pub(crate) metrics: Option<[u8; 32]>,
}

impl Front {
    /// The address of whoever asks.
    pub(crate) fn client(&self, headers: &HeaderMap, peer: Peer) -> IpAddr {
        let passed = || {
            // The last entry is the proxy's own word; those before it are anybody's.
            let all = text(headers, "x-forwarded-for")?;
            all.rsplit(',').next()?.trim().parse().ok()
        };
        let passed = if self.behind_proxy { passed() } else { None };
        passed.unwrap_or_else(|| peer.0.ip())
    }

    /// Whether the browser speaks TLS.
    pub(crate) fn secure(&self, headers: &HeaderMap) -> bool {
        self.tls || (self.behind_proxy && text(headers, "x-forwarded-proto") == Some("https"))
    }

    /// The host and port that the browser named.
    pub(crate) fn host<'a>(&self, headers: &'a HeaderMap, uri: &'a Uri) -> Option<&'a str> {
        let forwarded = if self.behind_proxy {
            text(headers, "x-forwarded-host")
        } else {
            None
        };
        forwarded
            .or_else(|| text(headers, "host"))
            .or_else(|| uri.authority().map(|authority| authority.as_str()))
    }

    /// The address of the server as the browser knows it, such as `https://office.example`.
    pub(crate) fn origin(&self, headers: &HeaderMap, uri: &Uri) -> String {
        let scheme = if self.secure(headers) {
            "https"
        } else {
            "http"
        };
        format!(
            "{scheme}://{}",
            self.host(headers, uri).unwrap_or("localhost")
        )
    }

    /// Whether a request that changes something comes from one of the server's own pages. Browsers
    /// say so in `Sec-Fetch-Site`, older ones in `Origin`; where neither stands, it does not count.
    pub(crate) fn is_from_own_page(&self, method: &Method, headers: &HeaderMap, uri: &Uri) -> bool {
        if method.is_safe() {
            return true;
        }
        if let Some(site) = text(headers, "sec-fetch-site") {
            return site == "same-origin";
        }
        let Some(origin) = text(headers, header::ORIGIN.as_str()) else {
            return false;
        };
        origin == self.origin(headers, uri)
    }

    /// Whether a request was made on this machine and not passed on for another.
    pub(crate) fn on_this_machine(headers: &HeaderMap, peer: Peer) -> bool {
        peer.0.ip().to_canonical().is_loopback() && !super::shield::passed_on(headers)
    }
}

fn text<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    headers.get(name)?.to_str().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(of: &[(&'static str, &'static str)]) -> HeaderMap {
        let pairs = of.iter().map(|(name, value)| {
            let name = axum::http::HeaderName::from_static(name);
            (name, axum::http::HeaderValue::from_static(value))
        });
        pairs.collect()
    }

    #[test]
    fn a_form_counts_from_an_own_page_alone() {
        let uri = Uri::from_static("/sign-in");
        let front = Front::default();
        let own = |of: &[(&'static str, &'static str)]| {
            front.is_from_own_page(&Method::POST, &headers(of), &uri)
        };
        let host = ("host", "office.example:8080");
        assert!(own(&[host, ("sec-fetch-site", "same-origin")]));
        assert!(own(&[host, ("origin", "http://office.example:8080")]));
        for site in ["cross-site", "same-site", "none", ""] {
            assert!(!own(&[
                host,
                ("sec-fetch-site", site),
                ("origin", "http://office.example:8080")
            ]));
        }
        for origin in [
            "http://other.example",
            "https://office.example:8080",
            "null",
        ] {
            assert!(!own(&[host, ("origin", origin)]));
        }
        assert!(!own(&[host]));
        assert!(front.is_from_own_page(&Method::GET, &headers(&[host]), &uri));
    }

    #[test]
    fn a_proxy_counts_only_where_there_is_one() {
        let peer = Peer(SocketAddr::from(([127, 0, 0, 1], 9)));
        let passed = headers(&[
            ("x-forwarded-for", "192.0.2.1, 198.51.100.7"),
            ("x-forwarded-proto", "https"),
            ("x-forwarded-host", "office.example"),
            ("host", "127.0.0.1:80"),
        ]);
        let uri = Uri::from_static("/");
        let plain = Front::default();
        assert_eq!(plain.client(&passed, peer), peer.0.ip());
        assert_eq!(plain.origin(&passed, &uri), "http://127.0.0.1:80");
        let behind = Front {
            behind_proxy: true,
            ..Front::default()
        };
        let client: IpAddr = "198.51.100.7".parse().unwrap();
        assert_eq!(behind.client(&passed, peer), client);
        assert_eq!(behind.origin(&passed, &uri), "https://office.example");
        assert!(!Front::on_this_machine(&passed, peer));
        assert!(Front::on_this_machine(&headers(&[]), peer));
    }
}
