//! Words of the core's own that were written into a document, told in the reader's language: what a bowl, a timer or a
//! developer is called where nobody called it anything. The document keeps them in English, whoever wrote it and wherever;
//! what a person wrote stays as it was written.

use super::{stop, zone};
use crate::trade::{Told, Volumes, term, told};

/// What stands in a document as the name of something.
#[must_use]
pub fn told(text: &str) -> Told {
    own(text).or_else(|| stop::own(text)).unwrap_or_else(|| zone::told(text))
}

fn own(text: &str) -> Option<Told> {
    if let Some(bowl) = text.strip_suffix(": working life") {
        return Some(told!("{bowl}: working life", bowl = told(bowl)));
    }
    if let Some(product) = text.strip_prefix("read the alert test with ") {
        return Some(told!("read the alert test with {product}", product));
    }
    if let Some(n) = text.strip_prefix("bowl ").and_then(|n| n.parse::<u32>().ok()) {
        return Some(told!("bowl {n}", n));
    }
    if let Some(strength) = text.strip_prefix("developer ").and_then(|s| s.parse::<Volumes>().ok()) {
        return Some(told!("developer {strength}", strength));
    }
    let words = [term!("gloss"), term!("treatment")];
    words.into_iter().find(|word| *word == *text).map(|word| word.told())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_core_called_something_is_told_and_what_people_called_it_is_left() {
        for (text, say) in [
            ("bowl 3", "bowl {n}"),
            ("bowl 3: working life", "{bowl}: working life"),
            ("read the alert test with Nube 9", "read the alert test with {product}"),
            ("developer 20 vol", "developer {strength}"),
            ("near the scalp", "near the scalp"),
            ("gloss", "gloss"),
            ("bowl for the fringe", "{text}"),
            ("developer of the house", "{text}"),
            ("", "{text}"),
        ] {
            let told = told(text);
            assert_eq!((told.say.as_str(), told.as_str()), (say, text));
        }
    }
}
