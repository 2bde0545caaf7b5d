//! Has the server built anew where the crew's page was: `serve/field.rs` takes it in.

fn main() {
    println!("cargo::rerun-if-changed=build.rs");
    println!("cargo::rerun-if-changed=../bindings/web/dist");
}
