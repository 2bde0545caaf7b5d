//! The browser's clock and randomness.

use chalkwalk_core::env::Env;
use chalkwalk_core::job::Millis;

/// The browser's clock and its source of random bytes.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct BrowserEnv;

impl Env for BrowserEnv {
    fn now(&mut self) -> Millis {
        #[cfg(target_family = "wasm")]
        let now = js_sys::Date::now();
        #[cfg(not(target_family = "wasm"))]
        let now = std::time::SystemTime::now()
            .duration_since(std::time::UNIX_EPOCH)
            .map_or(0.0, |time| time.as_secs_f64() * 1000.0);
        // Milliseconds since 1970 stay far below what a float holds exactly.
        now as Millis
    }

    fn random(&mut self, buffer: &mut [u8]) {
        // Without randomness no key and no id can be made: a browser that has none is not one.
        #[expect(clippy::expect_used, reason = "every browser has randomness")]
        getrandom::fill(buffer).expect("the browser gives random bytes");
    }
}
