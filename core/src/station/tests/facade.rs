//! Every block of the station's methods reaches hosts that speak no Rust.

use std::fs;
use std::path::Path;

/// Left out on purpose: `print.rs` takes a client's file that only Rust holds.
const LIST: &str = include_str!("../facade.rs");

#[test]
fn no_block_of_public_methods_is_left_out_of_the_facade() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/station");
    let mut blocks = 0;
    for file in fs::read_dir(folder).unwrap() {
        let path = file.unwrap().path();
        let path = if path.is_dir() { path.join("mod.rs") } else { path };
        let Ok(text) = fs::read_to_string(&path) else { continue };
        let whole = text.replace("\n    ", "\n\t");
        for (before, block) in whole.match_indices("\nimpl Station {").map(|(at, _)| whole.split_at(at)) {
            let body = block.split("\n}").next().unwrap();
            // What makes a station is no method of one.
            let takes_self =
                |method: &str| method.split(')').next().is_some_and(|head| head.contains("self"));
            if !body.split("\tpub fn ").skip(1).any(takes_self) {
                continue;
            }
            if path.ends_with("print.rs") {
                continue;
            }
            blocks += 1;
            let exported = before.rsplit("\n\n").next().unwrap().contains("tailcomb_facade::exported");
            assert!(exported, "{}: an impl block without the export", path.display());
            let stem = if path.ends_with("mod.rs") { path.parent().unwrap() } else { &path };
            let name = match stem.file_stem().unwrap().to_str().unwrap() {
                "station" => "super::FACADE".to_owned(),
                name => format!("super::{name}::FACADE"),
            };
            assert!(LIST.contains(&name), "{name} is not in the list");
        }
    }
    assert!(blocks >= 20, "{blocks}");
}
