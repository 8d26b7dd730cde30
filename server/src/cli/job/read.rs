//! Reading what is typed where the arithmetic has no unit of its own: hair levels, lengths of hair, `name=amount`.

use tailcomb_core::trade::mix::Share;
use tailcomb_core::trade::strength::{Strength, label_volumes};
use tailcomb_core::trade::{Grams, Micrometres, TradeError, Volumes};

/// A hair level in tenths: "7", "7.5", "7,5".
pub(super) fn level(text: &str) -> Result<u16, String> {
    let refused = || format!("cannot read “{text}” as a level: write it like 7 or 7.5");
    let plain = text.trim().replace(',', ".");
    let (whole, tenth) = plain.split_once('.').unwrap_or((&plain, "0"));
    if tenth.len() != 1 || whole.is_empty() || whole.len() > 2 {
        return Err(refused());
    }
    let digits = |t: &str| t.bytes().all(|b| b.is_ascii_digit()).then(|| t.parse::<u16>().ok()).flatten();
    match (digits(whole), digits(tenth)) {
        (Some(whole), Some(tenth)) => Ok(whole * 10 + tenth),
        _ => Err(refused()),
    }
}

/// A length in micrometres: "3.5 cm", "12mm", "4 in".
pub(super) fn micrometres(text: &str) -> Result<i64, String> {
    let length = text.parse::<Micrometres>().map_err(|error| error.to_string())?;
    Ok(i64::from(length.get()))
}

/// A length in millimetres.
pub(super) fn millimetres(text: &str) -> Result<i64, String> {
    micrometres(text).map(|um| (um + 500) / 1000)
}

/// "NAME=AMOUNT" in its two parts.
pub(super) fn assigned(text: &str) -> Result<(String, String), String> {
    match text.rsplit_once('=') {
        Some((name, value)) if !name.trim().is_empty() && !value.trim().is_empty() => {
            Ok((name.trim().to_owned(), value.trim().to_owned()))
        }
        _ => Err(format!("cannot read “{text}”: write it like NAME=AMOUNT, e.g. \"copper 7=30g\"")),
    }
}

/// A product and how much of the formula it is: "copper 7=30g", "clear=1 part".
pub(super) fn product(text: &str) -> Result<(String, Share), String> {
    let (name, share) = assigned(text)?;
    share.parse().map(|share| (name, share)).map_err(|e: TradeError| e.to_string())
}

/// A part of a bowl and what it weighed: "copper 7=30.2g".
pub(super) fn weighed(text: &str) -> Result<(String, Grams), String> {
    let (name, weight) = assigned(text)?;
    weight.parse().map(|weight| (name, weight)).map_err(|e: TradeError| e.to_string())
}

/// A strength as a label shows it, in volumes: "20 vol", "6 %".
pub(super) fn label(text: &str) -> Result<Volumes, String> {
    let strength: Strength = text.parse().map_err(|e: TradeError| e.to_string())?;
    match strength {
        Strength::Volumes(volumes) => {
            // Asked for, so that what no label shows is refused where it is typed.
            strength.label_percent().map_err(|e| e.to_string())?;
            Ok(volumes)
        }
        Strength::Percent(percent) => label_volumes(percent).map_err(|e| e.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_are_read_in_tenths_and_nonsense_is_refused_with_an_example() {
        assert_eq!(level("7"), Ok(70));
        assert_eq!(level(" 7.5 "), Ok(75));
        assert_eq!(level("10,5"), Ok(105));
        for bad in ["", "7.55", "x", "-1", "7.", ".5", "700", "7 gold", "\u{663}"] {
            assert!(level(bad).unwrap_err().contains("like 7 or 7.5"), "{bad}");
        }
    }

    #[test]
    fn lengths_need_a_unit_and_are_exact() {
        assert_eq!(micrometres("3.5 cm"), Ok(35_000));
        assert_eq!(micrometres("12mm"), Ok(12_000));
        assert_eq!(micrometres("11.76 mm"), Ok(11_760));
        assert_eq!(micrometres("0.5 m"), Ok(500_000));
        assert_eq!(micrometres("3 inch"), Ok(76_200));
        assert_eq!(millimetres("32 cm"), Ok(320));
        assert!(micrometres("35").unwrap_err().contains("no unit"));
        for bad in ["", "cm", "3 ells", "-1 cm", "1.23456 cm", "9999999 m", "1.2.3 cm"] {
            assert!(micrometres(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_product_keeps_its_name_and_a_missing_amount_is_refused() {
        let (name, share) = product("copper = 7=30g").unwrap();
        assert_eq!((name.as_str(), share), ("copper = 7", Share::Grams(Grams::whole(30))));
        assert_eq!(product("clear=1 part").unwrap().1, Share::parts(1));
        assert!(product("clear=1").unwrap_err().contains("no unit"));
        assert!(product("clear").unwrap_err().contains("NAME=AMOUNT"));
        assert!(product("=3g").is_err());
    }

    #[test]
    fn a_label_is_read_in_volumes_or_per_cent_and_never_bare() {
        assert_eq!(label("20 vol").unwrap().to_string(), "20 vol");
        assert_eq!(label("6%").unwrap().to_string(), "20 vol");
        assert!(label("20").unwrap_err().contains("no unit"));
        assert!(label("100 vol").is_err());
    }
}
