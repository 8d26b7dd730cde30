use super::super::close::{RecordDigest, day_content};
use super::super::day::*;
use super::trial::Replica;
use crate::ids::DocId;

/// Made with Python's hashlib from the written format alone:
/// `sha256(b"tailcomb record digest v1\0" + b"".join(pack(">I", len(i)) + i + pack(">I", len(h)) + b"".join(sorted(h))
/// for i, h in sorted(docs)))` with docs `client/ab` → [0x11 × 32, 0x22 × 32] and `salon` → [0x33 × 32].
const VECTOR: &str = "d02e5adf117e13dc305defdc6341f4d547cb41645f72a4d586e804a13ebb2a97";
/// The same over no document.
const NOTHING: &str = "93fbe4aa3c29d69e9c254e0f7c2003ea0d25bef2feb3ac65546da28eefc385a9";

#[test]
fn the_digest_follows_the_written_format() {
    let heads = [[0x22_u8; 32], [0x11; 32]].concat();
    let digest = RecordDigest::over([("salon", vec![0x33_u8; 32]), ("client/ab", heads)]);
    assert_eq!(digest.to_string(), VECTOR);
    assert_eq!(RecordDigest::over(std::iter::empty::<(&str, &[u8])>()).to_string(), NOTHING);
    let short = digest.short();
    assert_eq!((short.len(), short.replace('-', "")), (14, VECTOR[..12].to_owned()));
    assert_eq!(serde_json::to_string(&digest).unwrap(), format!("\"{VECTOR}\""));
}

#[test]
fn the_digest_sees_a_missing_document_and_a_missing_change_but_no_order() {
    let a = ("salon", vec![1_u8; 32]);
    let b = ("shelf", [vec![2_u8; 32], vec![3_u8; 32]].concat());
    let both = RecordDigest::over([a.clone(), b.clone()]);
    assert_eq!(both, RecordDigest::over([b.clone(), a.clone()]));
    assert_eq!(both, RecordDigest::over([a.clone(), ("shelf", [vec![3_u8; 32], vec![2_u8; 32]].concat())]));
    assert_eq!(both, RecordDigest::over([a.clone(), b.clone(), ("day/x", Vec::new())]), "empty is not there");
    assert_ne!(both, RecordDigest::over([a.clone()]));
    assert_ne!(both, RecordDigest::over([a, ("shelf", vec![2_u8; 32])]));
}

#[test]
fn stating_a_digest_does_not_undo_the_agreement_it_states() {
    let id = DocId::day(jiff::civil::date(2026, 7, 1));
    let visit = DocId::parse("visit/mara").unwrap();
    let mut a = Replica::new(&id, 1);
    a.does("ines", 0, |e| plan_visit(e, &Slot { visit: visit.clone(), planned_at_ms: 1, stylist: None }));
    let mut b = a.twin(2);
    let before = day_content(&a.doc);
    for (replica, device) in [(&mut a, "dev1"), (&mut b, "dev2")] {
        let closing = Closing { digest: "aa".to_owned(), docs: 1, unsent: 0 };
        replica.does("ines", 600, |e| state_closing(e, device, &closing));
        replica.does("ines", 601, |e| close_day(e, "aa"));
    }
    assert_eq!((day_content(&a.doc), day_content(&b.doc)), (before, before));
    b.does("ines", 602, |e| plan_visit(e, &Slot { visit, planned_at_ms: 2, stylist: None }));
    assert_ne!(day_content(&b.doc), before, "work after the closing shows");
    a.hears(&b);
    assert_eq!(day_content(&a.doc), day_content(&b.doc));
}
