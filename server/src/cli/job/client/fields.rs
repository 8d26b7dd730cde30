//! The plain fields of a card, as they are typed and as they are told.

use clap::Args;
use tailcomb_core::record::Said;
use tailcomb_core::record::client::ClientField;
use tailcomb_core::record::zone::Zone;

use super::super::read;
use super::super::say::{self, Names};
use crate::cli::error::CliError;

/// What a card can hold.
#[derive(Debug, Clone, Default, Args)]
pub struct Fields {
    /// Telephone.
    #[arg(long)]
    pub phone: Option<String>,
    /// Mail address.
    #[arg(long)]
    pub email: Option<String>,
    /// Postal address.
    #[arg(long)]
    pub address: Option<String>,
    /// Date of birth, yyyy-mm-dd.
    #[arg(long, value_name = "DATE")]
    pub born: Option<String>,
    /// Natural level, e.g. 5.5.
    #[arg(long, value_name = "LEVEL")]
    pub natural_level: Option<String>,
    /// White hair in percent.
    #[arg(long, value_name = "PERCENT")]
    pub white: Option<String>,
    /// fine, medium or coarse.
    #[arg(long)]
    pub texture: Option<String>,
    /// thin, medium or thick.
    #[arg(long)]
    pub density: Option<String>,
    /// low, medium or high; of one zone: 1=low, ends=high. May be given several times.
    #[arg(long, value_name = "[ZONE=]WORD")]
    pub porosity: Vec<String>,
    /// straight, wavy, curly or coily.
    #[arg(long)]
    pub curl: Option<String>,
    /// Length of the hair, e.g. "32 cm".
    #[arg(long)]
    pub length: Option<String>,
    /// The scalp, in words.
    #[arg(long)]
    pub scalp: Option<String>,
    /// The skin elsewhere, in words.
    #[arg(long)]
    pub skin: Option<String>,
    /// Medication that bears on hair, scalp or skin, as far as the client wants it noted.
    #[arg(long)]
    pub medication: Option<String>,
    /// Anything else.
    #[arg(long)]
    pub notes: Option<String>,
}

impl Fields {
    pub(super) fn given(self) -> Result<Vec<(ClientField, String)>, CliError> {
        let tenths = |text: String| match text.trim() {
            "" => Ok(text),
            text => read::level(text).map(|t| t.to_string()).map_err(CliError::input),
        };
        let millimetres = |text: String| match text.trim() {
            "" => Ok(text),
            text => read::millimetres(text).map(|mm| mm.to_string()).map_err(CliError::input),
        };
        let percent = |text: String| text.trim().trim_end_matches('%').trim().to_owned();
        let fields = [
            (ClientField::Phone, self.phone),
            (ClientField::Email, self.email),
            (ClientField::Address, self.address),
            (ClientField::Born, self.born),
            (ClientField::NaturalLevelTenths, self.natural_level.map(tenths).transpose()?),
            (ClientField::WhitePct, self.white.map(percent)),
            (ClientField::Texture, self.texture),
            (ClientField::Density, self.density),
            (ClientField::Curl, self.curl),
            (ClientField::LengthMm, self.length.map(millimetres).transpose()?),
            (ClientField::Scalp, self.scalp),
            (ClientField::Skin, self.skin),
            (ClientField::Medication, self.medication),
            (ClientField::Notes, self.notes),
        ];
        let mut given: Vec<(ClientField, String)> =
            fields.into_iter().filter_map(|(field, text)| Some((field, text?))).collect();
        for text in self.porosity {
            given.push(porosity(&text)?);
        }
        Ok(given)
    }
}

/// "high", or "ends=high".
fn porosity(text: &str) -> Result<(ClientField, String), CliError> {
    let Some((zone, word)) = text.split_once('=') else {
        return Ok((ClientField::Porosity, text.to_owned()));
    };
    let field = Zone::of(zone).map(ClientField::porosity_of).ok_or_else(|| {
        CliError::input(format!("cannot read “{}” as a zone", zone.trim()))
            .hint("write 1, 2 or 3, or: near the scalp, mid-lengths, ends")
    })?;
    Ok((field, word.to_owned()))
}

/// A field and what is said in it; all of it when people wrote it apart.
pub(super) fn told(field: ClientField, said: &[Said], names: &Names) -> Option<Vec<String>> {
    let told = |said: &Said| {
        let number = said.value.as_i64();
        match (field, number) {
            (ClientField::NaturalLevelTenths, Some(n)) => say::level(u16::try_from(n).unwrap_or(0)),
            (ClientField::WhitePct, Some(n)) => format!("{n} %"),
            (ClientField::LengthMm, Some(n)) => names.length(n.saturating_mul(1000)),
            _ => said.value.as_str().map_or_else(|| said.value.to_string(), str::to_owned),
        }
    };
    let all: Vec<String> = said.iter().filter(|s| !s.value.is_null()).map(told).collect();
    if all.is_empty() {
        return None;
    }
    let name = field.key().replace('_', " ");
    let name = [" tenths", " pct", " mm"].iter().find_map(|unit| name.strip_suffix(unit)).unwrap_or(&name);
    Some(vec![name.to_owned(), all.join(" | ")])
}
