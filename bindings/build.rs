//! Devices with pages of 16 KB load only libraries whose parts are aligned to them.

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    let system = std::env::var("CARGO_CFG_TARGET_OS").unwrap_or_default();
    if system == "android" || system == "linux" {
        println!("cargo:rustc-link-arg-cdylib=-Wl,-z,max-page-size=16384");
    }
    // The NDK's linker is lld: equal code stands once, and relocations are packed as devices from
    // API 23 on read them.
    if system == "android" {
        println!("cargo:rustc-link-arg-cdylib=-Wl,--icf=all");
        println!("cargo:rustc-link-arg-cdylib=-Wl,--pack-dyn-relocs=android");
    }
}
