//! What people with a browser are shown.

use super::*;

#[tokio::test]
async fn people_with_a_browser_are_told_what_this_is_where_no_app_is_built_in() {
    let (house, ..) = salon(Limits::default()).await;
    let root = house.get("/").await;
    let root = root.text();
    assert!(root.contains("Tailcomb relay") && root.contains("make phone"), "{root}");
    assert_eq!(house.get("/assets/any.js").await.status, 404);
    let join = house.get("/join").await;
    assert_eq!(join.status, 200);
    assert!(join.head.contains("content-type: text/html"), "{}", join.head);
    assert!(join.head.contains("referrer-policy: no-referrer"), "{}", join.head);
    assert!(join.text().contains("everything after the # sign"));
    let version: serde_json::Value = serde_json::from_slice(&house.get("/v1/version").await.body).unwrap();
    assert_eq!(version["protocol"], 1);
    house.close().await;
}

#[tokio::test]
async fn a_browser_is_handed_the_app_and_an_invitation_opens_it() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("assets")).unwrap();
    std::fs::write(folder.path().join("index.html"), "<!doctype html>the app").unwrap();
    std::fs::write(folder.path().join("assets/core-1.wasm"), "core").unwrap();
    let phone = Arc::new(PhoneApp::in_folder(folder.path()).unwrap());
    let config = RelayConfig { phone, ..RelayConfig::new(folder.path().join("relay.db")) };
    let house = House::in_file(config).await;
    for path in ["/", "/join", "/index.html"] {
        let page = house.get(path).await;
        assert_eq!((page.status, page.text()), (200, "<!doctype html>the app"), "{path}");
    }
    let core = house.get("/assets/core-1.wasm").await;
    assert!(core.head.contains("application/wasm") && core.head.contains("immutable"), "{}", core.head);
    assert_eq!(house.get("/relay.db").await.status, 404, "what came into the folder later is not handed out");
    house.close().await;
}
