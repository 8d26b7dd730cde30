//! Takes the built phone app into the binary: whatever `make phone` put into `app/`. A binary without it says so.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    println!("cargo::rerun-if-changed=build.rs");
    println!("cargo::rerun-if-changed=app");
    let root = PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").unwrap_or_default()).join("app");
    let mut files = Vec::new();
    if root.is_dir() {
        gather(&root, &mut files)?;
    }
    files.sort();
    let mut text = String::from("static FILES: &[(&str, &[u8])] = &[\n");
    for path in files {
        let name = path.strip_prefix(&root).unwrap_or(&path).to_string_lossy().replace('\\', "/");
        // From where the project is when it is compiled, so that a target folder may move with it.
        let file = format!("/app/{name}");
        let _ = writeln!(
            text,
            "    ({name:?}, include_bytes!(concat!(env!(\"CARGO_MANIFEST_DIR\"), {file:?}))),"
        );
    }
    text.push_str("];\n");
    fs::write(PathBuf::from(env::var_os("OUT_DIR").unwrap_or_default()).join("app.rs"), text)
}

fn gather(folder: &Path, files: &mut Vec<PathBuf>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            gather(&path, files)?;
        } else if !path.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.')) {
            files.push(path);
        }
    }
    Ok(())
}
