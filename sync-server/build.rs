//! Puts the crew's page into the program, where it was built.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let dist = Path::new("../bindings/web/dist");
    println!("cargo::rerun-if-changed=build.rs");
    println!("cargo::rerun-if-changed={}", dist.display());
    // Two clones may build into one folder: what was listed for the other is not taken for this one.
    if let Ok(dist) = fs::canonicalize(dist) {
        println!("cargo::rerun-if-changed={}", dist.display());
    }
    let mut files = Vec::new();
    if dist.join("index.html").is_file() {
        collect(dist, &mut files)?;
    }
    files.sort();
    let mut table = String::from("&[\n");
    for file in &files {
        let name = file.strip_prefix(dist).unwrap_or(file);
        let name = name.to_string_lossy().replace('\\', "/");
        let path = format!("/../bindings/web/dist/{name}");
        // Writing to a String cannot fail.
        let _ = writeln!(
            table,
            "    ({name:?}, include_bytes!(concat!(env!(\"CARGO_MANIFEST_DIR\"), {path:?}))),"
        );
    }
    table.push(']');
    let out = env::var_os("OUT_DIR")
        .map(PathBuf::from)
        .unwrap_or_default();
    fs::write(out.join("field.rs"), table)
}

fn collect(folder: &Path, files: &mut Vec<PathBuf>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            collect(&path, files)?;
        } else if path.extension().is_none_or(|kind| kind != "md") {
            files.push(path);
        }
    }
    Ok(())
}
