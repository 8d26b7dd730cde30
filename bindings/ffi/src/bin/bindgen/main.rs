//! Writes what a language needs to call the library: UniFFI's own generator, of the version that the library was made
//! with, and then what that has no words for.
//!
//! ```text
//! tailcomb-bindgen LANGUAGE LIBRARY FOLDER
//! ```

mod calling;
mod errors;
mod fields;
mod fixed;
mod questions;
mod reading;
mod small;
mod text;

use std::collections::BTreeMap;
use std::fmt::Display;
use std::fs;
use std::path::Path;
use std::process::ExitCode;

use uniffi_bindgen::bindings::{GenerateOptions, TargetLanguage, generate};
use uniffi_bindgen::macro_metadata::extract_from_library;
use uniffi_meta::Metadata;

/// Where questions are exported.
const CRATE: &str = "tailcomb_core";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [language, library, folder] = arguments.as_slice() else {
        eprintln!("tailcomb-bindgen kotlin|python|swift LIBRARY FOLDER");
        return ExitCode::FAILURE;
    };
    match write(language, library, folder) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn write(language: &str, library: &str, folder: &str) -> Result<(), String> {
    let target = match language {
        "kotlin" => TargetLanguage::Kotlin,
        "python" => TargetLanguage::Python,
        "swift" => TargetLanguage::Swift,
        other => return Err(format!("there are no bindings for {other}")),
    };
    let told = |error| format!("{error:?}");
    generate(GenerateOptions {
        languages: vec![target.clone()],
        source: library.into(),
        out_dir: folder.into(),
        config_override: None,
        format: false,
        crate_filter: None,
        metadata_no_deps: false,
    })
    .map_err(told)?;
    let all = extract_from_library(library.into()).map_err(told)?;
    let questions = questions::of(&all, CRATE)?;
    let kinds = errors::kinds(&all)?;
    let folder = Path::new(folder);
    let mut modules = all.iter().filter_map(|one| match one {
        Metadata::Namespace(module) => Some(module.crate_name.as_str()),
        _ => None,
    });
    let file = |module: &str| match target {
        // Packages are folders there.
        TargetLanguage::Kotlin => match module {
            "tailcomb_ffi" => folder.join("tailcomb/tailcomb_ffi.kt"),
            other => folder
                .join("tailcomb")
                .join(other.trim_start_matches("tailcomb_"))
                .join(format!("{other}.kt")),
        },
        TargetLanguage::Swift => folder.join(format!("{module}.swift")),
        _ => folder.join(format!("{module}.py")),
    };
    match target {
        TargetLanguage::Kotlin => {
            let ours = |text| errors::kotlin(questions::kotlin(text, &questions)?, &kinds);
            change(&file(CRATE), ours)?;
            modules.try_for_each(|module| change(&file(module), calling::kotlin))
        }
        TargetLanguage::Swift => {
            change(&file(CRATE), |text| errors::swift(questions::swift(text, &questions)?, &kinds))
        }
        _ => {
            change(&file(CRATE), |text| questions::python(text, &questions))?;
            let read = |module| {
                let path = file(module);
                let text =
                    fs::read_to_string(&path).map_err(|error| format!("{}: {error}", path.display()))?;
                Ok::<_, String>((module, text))
            };
            let modules = modules.map(read).collect::<Result<BTreeMap<_, _>, _>>()?;
            let shapes = reading::Shapes::of(&all, &modules)?;
            modules.keys().try_for_each(|module| change(&file(module), |text| shapes.python(text, module)))
        }
    }
}

/// Changes what stands in a file.
fn change(file: &Path, change: impl FnOnce(String) -> Result<String, String>) -> Result<(), String> {
    let at = |error: &dyn Display| format!("{}: {error}", file.display());
    let text = fs::read_to_string(file).map_err(|error| at(&error))?;
    let text = change(text).map_err(|error| at(&error))?;
    fs::write(file, text).map_err(|error| at(&error))
}
