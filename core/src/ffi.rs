//! For UniFFI: what the record and the station give and take that it has no words for. Names go over as text, counts as
//! whole numbers, tuples under names.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use jiff::civil::Date;

use crate::ids::{DocId, EntryId, PersonId, RevId};
use crate::order::Gather as _;
use crate::record::digest::RecordDigest;
use crate::station::hosted::HostError;
use crate::trade::Told;

/// An argument that is not what it should be: an ordinary refusal, where UniFFI by itself would give up.
fn unfit(why: impl ToString) -> HostError {
    HostError::refused("refused", Told::written(why.to_string()))
}

/// A name that is kept as text.
macro_rules! text {
    ($(#[$doc:meta] $name:ident;)*) => { $(
        uniffi::custom_type!(
            #[$doc]
            $name, String, {
                lower: |name| name.as_str().to_owned(),
                try_lift: |text| Ok($name::new(text)),
            }
        );
    )* };
}

text! {
    /// A thing inside a document that has a history of revisions: a timer, a formula line, a sensitivity.
    EntryId;
    /// One revision of an entry.
    RevId;
    /// A person of the salon, by entry id in the salon document.
    PersonId;
}

uniffi::custom_type!(
    /// The name of a document: `salon`, `shelf`, `client/<name>`, `visit/<name>`, `day/<yyyy-mm-dd>`.
    DocId, String, { lower: |doc| doc.into(), try_lift: |text| Ok(DocId::try_from(text).map_err(unfit)?) }
);

uniffi::custom_type!(
    /// A calendar date of the salon, ISO 8601.
    Date, String, { remote, lower: |date| date.to_string(), try_lift: |text| Ok(text.parse().map_err(unfit)?) }
);

uniffi::custom_type!(
    /// A digest of the whole record, in hexadecimal.
    RecordDigest, String, {
        lower: |digest| digest.to_string(),
        try_lift: |_text| Err(uniffi::deps::anyhow::anyhow!("a digest is computed, not given")),
    }
);

/// How many of something.
type Count = usize;
uniffi::custom_type!(
    /// How many of something.
    Count, i64, {
        remote,
        lower: |count| i64::try_from(count).unwrap_or(i64::MAX),
        try_lift: |number| Ok(usize::try_from(number).map_err(unfit)?),
    }
);

/// Any JSON, as text.
type Json = serde_json::Value;
uniffi::custom_type!(
    /// Any JSON, as text.
    Json, String, { remote, lower: |json| json.to_string(), try_lift: |text| Ok(serde_json::from_str(&text)?) }
);

/// What the station says in its own words, which no host says to it.
type Words = &'static str;
uniffi::custom_type!(
    /// What the station says in its own words.
    Words, String, {
        remote,
        lower: |words| words.to_owned(),
        try_lift: |_words| Err(uniffi::deps::anyhow::anyhow!("the station says this, nobody says it to the station")),
    }
);

/// A JSON object, as text.
type JsonObject = serde_json::Map<String, serde_json::Value>;
uniffi::custom_type!(
    /// A JSON object, as text.
    JsonObject, String, {
        remote,
        lower: |object| serde_json::Value::Object(object).to_string(),
        try_lift: |text| Ok(serde_json::from_str(&text)?),
    }
);

/// A map without order, which is what UniFFI knows.
macro_rules! map {
    ($(#[$doc:meta] $name:ident: $value:ty;)*) => { $(
        #[$doc]
        type $name = BTreeMap<String, $value>;
        uniffi::custom_type!(
            #[$doc]
            $name, HashMap<String, $value>, {
                remote,
                lower: |map| map.into_iter().collect(),
                try_lift: |map| Ok(map.into_iter().gather()),
            }
        );
    )* };
}

map! {
    /// Names by what they name.
    TextByName: String;
    /// Counts by what is counted.
    CountByName: u64;
    /// What was said of plain fields, by the field's name.
    SaidByField: Vec<crate::record::Said>;
    /// What was said of plain fields in a client's file, by the field's name.
    FileSaidByField: Vec<crate::record::portable::FileSaid>;
}

/// Instants, in milliseconds of salon time.
type Instants = BTreeSet<i64>;
uniffi::custom_type!(
    /// Instants, in milliseconds of salon time.
    Instants, Vec<i64>, {
        remote,
        lower: |set| set.into_iter().collect(),
        try_lift: |list| Ok(list.into_iter().gather()),
    }
);

/// Lines that stand beside a brief, always the same ones.
type BriefCautions = [&'static str; 4];
uniffi::custom_type!(
    /// Lines that stand beside a brief.
    BriefCautions, Vec<String>, {
        remote,
        lower: |lines| lines.map(str::to_owned).to_vec(),
        try_lift: |_lines| Err(uniffi::deps::anyhow::anyhow!("the station says this, nobody says it to the station")),
    }
);

tailcomb_facade::tuple! {
    /// What is to stand in a plain field of a card.
    struct FieldText {
        /// The field.
        field: crate::record::client::ClientField,
        /// What is to stand there; empty: nothing.
        text: String,
    }
}
tailcomb_facade::tuple! {
    /// An answer to one of the standing questions.
    struct AnswerTo {
        /// The question.
        key: String,
        /// The answer.
        answer: crate::record::screening::Answered,
    }
}
tailcomb_facade::tuple! {
    /// What the scale showed for one part of a bowl.
    struct PartWeighed {
        /// Its place in the bowl's plan, from 0.
        part: usize,
        /// What went in.
        weight_mg: crate::trade::Grams,
    }
}
tailcomb_facade::tuple! {
    /// The stations that stated one digest.
    struct DigestStated {
        /// The digest.
        digest: String,
        /// Who stated it.
        stations: Vec<String>,
    }
}
tailcomb_facade::tuple! {
    /// An entry of a document, with the list that it is of.
    struct ListedEntry {
        /// The list.
        collection: String,
        /// The entry.
        entry: EntryId,
    }
}
tailcomb_facade::tuple! {
    /// How much of a product was counted.
    struct ProductCounted {
        /// The product of the shelf.
        product: EntryId,
        /// The count; several where people counted without knowing of each other.
        count: crate::record::Register<crate::record::day::StockCount>,
    }
}
tailcomb_facade::tuple! {
    /// A delivery.
    struct DeliveryNoted {
        /// Its name.
        id: EntryId,
        /// What came; several where people noted it without knowing of each other.
        delivered: crate::record::Register<crate::record::day::Delivered>,
    }
}
tailcomb_facade::tuple! {
    /// Who did something, and when.
    struct Done {
        /// Who.
        by: PersonId,
        /// When.
        at: crate::time::Moment,
    }
}
tailcomb_facade::tuple! {
    /// A place on the section map, in its own units, from the top left.
    struct MapPoint {
        /// To the right.
        x: i64,
        /// Down.
        y: i64,
    }
}
tailcomb_facade::tuple! {
    /// What a station holds.
    struct Held {
        /// The digest of all of it.
        digest: RecordDigest,
        /// How many documents it covers.
        documents: u64,
    }
}
