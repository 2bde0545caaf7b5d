//! Writes the Kotlin, Swift and Python of the built library. It must be run before the library is
//! stripped: what it reads stands in the symbols.

fn main() {
    uniffi::uniffi_bindgen_main();
}
