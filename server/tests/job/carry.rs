//! One client as files, and back.

use serde_json::Value;

use crate::kit::{At, Relay};

fn with_history() -> At {
    let at = At::with_visit();
    at.ok(&["client", "set", "rosa", "--notes", "likes <b>copper</b> & \"warm\""]);
    at.ok(&["client", "sensitivity", "rosa", "PPD", "--severity", "strong", "--reaction", "blisters"]);
    at.ok(&["formula", "note", "rosa", "glow", "copper 7=30g", "--ratio", "1:1.5", "--developer", "20vol"]);
    at.ok(&["visit", "close", "rosa"]);
    at
}

#[test]
fn a_client_is_exported_whole_as_data_and_as_a_page_and_taken_in_elsewhere() {
    let at = with_history();
    let dir = tempfile::tempdir().unwrap();
    let (data, page) = (dir.path().join("rosa.json"), dir.path().join("rosa.html"));
    let (data, page) = (data.to_str().unwrap(), page.to_str().unwrap());
    let said = at.ok(&["client", "export", "rosa", "--data", data, "--html", page]);
    assert!(said.contains("1 visits") && said.contains("to nobody else"), "{said}");
    let again = at.run(&["client", "export", "rosa", "--data", data]);
    assert!(again.refused().contains("not overwritten"), "{}", again.err);

    let file: Value = serde_json::from_str(&std::fs::read_to_string(data).unwrap()).unwrap();
    assert_eq!(file["format"], "tailcomb client");
    assert!(file["people"].as_object().unwrap().values().any(|n| n == "Ines Carvalhal"));
    let page = std::fs::read_to_string(page).unwrap();
    for part in [
        "Rosa Valadares",
        "PPD",
        "glow",
        "30.0 g",
        "&lt;b&gt;copper&lt;/b&gt; &amp; &quot;warm&quot;",
        "Ines Carvalhal",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    assert!(
        !page.contains("<b>")
            && !page.contains("http://")
            && !page.contains("src=")
            && !page.contains("url(")
    );

    // Into another salon, and from there to a second station.
    let relay = Relay::start();
    let other = At::founded_at(&relay);
    let brought = other.ok(&["client", "import", data]);
    assert!(
        brought.contains("Rosa Valadares has a new card") && brought.contains("not known here: Ines"),
        "{brought}"
    );
    let second = other.join("chair 2", "ines");
    second.ok(&["sync"]);
    let card = second.ok(&["client", "show", "rosa"]);
    for part in ["PPD: strong reaction, blisters", "912 345 678", "from a file of Alderlight"] {
        assert!(card.contains(part), "{part}: {card}");
    }
    let history = second.ok(&["client", "history", "rosa"]);
    assert!(history.contains("copper 7") && history.contains("30.0 g"), "{history}");
    // Into the same salon it is a second card, not the first one again.
    at.ok(&["client", "import", data]);
    assert_eq!(at.json(&["search", "rosa"])["found"].as_array().unwrap().len(), 2);
}

#[test]
fn a_bad_file_is_refused_with_every_place_and_nothing_of_it_is_kept() {
    let at = with_history();
    let dir = tempfile::tempdir().unwrap();
    let mut file = at.json(&["client", "export", "rosa"])["export"].clone();
    let path = dir.path().join("bad.json");
    file["card"]["fields"]["phone"][0]["at_ms"] = "noon".into();
    file["visits"][0]["entries"][0]["revisions"][0]["rev"] = "../up".into();
    std::fs::write(&path, file.to_string()).unwrap();
    let at2 = At::founded();
    let bad = at2.run(&["client", "import", path.to_str().unwrap()]);
    for part in
        ["card.fields.phone[0].at_ms", "visits[0].entries[0].revisions[0].rev", "nothing of it was kept"]
    {
        assert!(bad.refused().contains(part), "{part}: {}", bad.err);
    }
    std::fs::write(&path, "{\"format\": \"something else\"}").unwrap();
    assert!(at2.run(&["client", "import", path.to_str().unwrap()]).refused().contains("no client's file"));
    std::fs::write(&path, "[".repeat(100_000)).unwrap();
    assert!(at2.run(&["client", "import", path.to_str().unwrap()]).refused().contains("no JSON"));
    assert!(at2.ok(&["client", "list"]).contains("no cards yet"));
}
