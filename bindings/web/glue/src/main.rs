//! Writes the JavaScript and the types that a browser loads a module with: `glue WASM FOLDER NAME`.

use std::process::ExitCode;

use wasm_bindgen_cli_support::Bindgen;

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let mut next = || arguments.next();
    let (Some(wasm), Some(folder), Some(name)) = (next(), next(), next()) else {
        eprintln!("usage: chalkwalk-web-glue WASM FOLDER NAME");
        return ExitCode::from(2);
    };
    match write(&wasm, &folder, &name) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{wasm} cannot be made ready for a browser: {error:#}");
            ExitCode::FAILURE
        }
    }
}

fn write(wasm: &str, folder: &str, name: &str) -> Result<(), Box<dyn std::error::Error>> {
    let mut bindgen = Bindgen::new();
    bindgen.input_path(wasm).out_name(name);
    bindgen.typescript(true).web(true)?;
    // Names of functions are a third of the file and no use to a phone.
    bindgen.remove_name_section(true);
    bindgen.remove_producers_section(true);
    bindgen.generate(folder)?;
    Ok(())
}
