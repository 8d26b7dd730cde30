//! A refusal is read without asking of which kind it is: what every kind has, the error itself has, and what is printed of
//! one that nobody foresaw is its sentence.

use std::fmt::Write as _;

use uniffi_meta::Metadata;

use crate::text::{change, find, part, replaced};

const ERROR: &str = "HostError";

/// The kinds of refusal. Each has these fields: a code, a sentence, and the sentence with its places.
pub(crate) fn kinds(all: &[Metadata]) -> Result<Vec<String>, String> {
    let mut errors = all.iter().filter_map(|one| match one {
        Metadata::Enum(one) if one.name == ERROR => Some(one),
        _ => None,
    });
    let error = errors.next().ok_or_else(|| format!("there is no {ERROR}"))?;
    let kind = |case: &uniffi_meta::VariantMetadata| {
        let fields: Vec<&str> = case.fields.iter().map(|field| field.name.as_str()).collect();
        match fields.as_slice() {
            ["code", "sentence", "said"] => Ok(case.name.clone()),
            _ => Err(format!("{} is made of {fields:?}", case.name)),
        }
    };
    error.variants.iter().map(kind).collect()
}

pub(crate) fn kotlin(mut text: String, kinds: &[String]) -> Result<String, String> {
    let head = "sealed class HostException: kotlin.Exception() {\n";
    let class = part(&text, &(0..text.len()), head, "companion object ErrorHandler")?;
    change(&mut text, class, |class| {
        let printed = "get() = \"code=${ `code` }, sentence=${ `sentence` }, said=${ `said` }\"";
        let mut class = class.to_owned();
        for (theirs, ours) in [
            ("        val `code`", "        override val `code`"),
            ("        val `sentence`", "        override val `sentence`"),
            ("        val `said`", "        override val `said`"),
            (printed, "get() = `sentence`"),
        ] {
            if class.matches(theirs).count() != kinds.len() {
                return Err(format!("{theirs:?} was expected once in each kind of refusal"));
            }
            class = class.replace(theirs, ours);
        }
        replaced(&class, head, &format!("{head}{KOTLIN}"))
    })?;
    Ok(text)
}

const KOTLIN: &str = "    /** For programs: stable. */
    abstract val `code`: kotlin.String

    /** For people, in English. */
    abstract val `sentence`: kotlin.String

    /** The sentence with its places, and what stands in them. */
    abstract val `said`: Told
";

pub(crate) fn swift(mut text: String, kinds: &[String]) -> Result<String, String> {
    let begins = find(&text, &(0..text.len()), "enum HostError: Swift.Error")?;
    let printed = "        String(reflecting: self)\n";
    let described = part(&text, &(begins..text.len()), "public var errorDescription: String? {\n", printed)?;
    change(&mut text, described, |described| replaced(described, printed, "        sentence\n"))?;
    let cases: Vec<String> =
        kinds.iter().map(|kind| format!(".{kind}(let code, let sentence, let said)")).collect();
    _ = write!(
        text,
        "
extension HostError {{
    /// For programs: stable.
    public var code: String {{ parts.code }}
    /// For people, in English.
    public var sentence: String {{ parts.sentence }}
    /// The sentence with its places, and what stands in them.
    public var said: Told {{ parts.said }}

    private var parts: (code: String, sentence: String, said: Told) {{
        switch self {{
        case {}:
            return (code, sentence, said)
        }}
    }}
}}
",
        cases.join(",\n            ")
    );
    Ok(text)
}
