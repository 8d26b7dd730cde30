//! The crate's own words: no text of it may vouch for a mix.
#![allow(missing_docs, clippy::unwrap_used)]

use std::fs;
use std::path::{Path, PathBuf};

fn sources(dir: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") {
            into.push(path);
        }
    }
}

#[test]
fn no_text_of_this_crate_calls_anything_safe() {
    let mut files = Vec::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut files);
    assert!(files.len() > 10, "the sources were not found");
    for file in files {
        let text = fs::read_to_string(&file).unwrap().to_lowercase();
        let word =
            text.split(|c: char| !c.is_alphanumeric()).find(|w| w.starts_with("safe") || *w == "harmless");
        assert_eq!(word, None, "{}", file.display());
    }
}
