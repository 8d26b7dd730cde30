//! Arithmetic at the bowl without a client: nothing is noted anywhere. The rules of the place and what belongs beside a
//! mix are the salon's, so that a calculator says what a bowl of a visit would.

use serde::Serialize;

use super::{Station, StationError, cautions};
use crate::trade::blend::{Blend, blend};
use crate::trade::limits::{Findings, Substance, UsedOn};
use crate::trade::mix::{
    Amount, DeveloperPart, DeveloperSide, Mix, ProductKind, ProductPart, Recipe, Share, Weighing,
};
use crate::trade::onhead::on_head_of_weighing;
use crate::trade::strength::Strength;
use crate::trade::{Grams, Percent, Ratio, Told, TradeError};

/// What is to be mixed, of whatever products.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "web", derive(serde::Deserialize, ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct MixWish {
    /// The products.
    pub products: Vec<ProductPart>,
    /// Product to developer.
    pub ratio: Ratio,
    /// The developer by its label.
    pub developer: Strength,
    /// How much.
    pub amount: Amount,
}

/// What goes on the scale, and what meets the hair.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Reckoned {
    /// Line by line.
    pub weighing: Weighing,
    /// Peroxide of the mix ready for use.
    #[serde(rename = "on_head_pct_e4")]
    pub on_head: Percent,
    /// That figure against the rules of the place.
    pub findings: Vec<Findings>,
    /// The same in sentences.
    pub said: Vec<Told>,
    /// What is to be said beside it.
    pub cautions: Vec<Told>,
}

/// Developers blended to a strength that is not on the shelf.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Blended {
    /// What to weigh.
    pub blend: Blend,
    /// What is to be said beside it.
    pub cautions: Vec<Told>,
}

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported(asks(reckon_mix)))]
impl Station {
    /// Ratio to grams on the scale, and what meets the hair. Nothing is noted.
    ///
    /// # Errors
    /// [`StationError`], saying what would be possible.
    pub fn reckon_mix(&mut self, wish: &MixWish) -> Result<Reckoned, StationError> {
        let developer = DeveloperPart {
            name: format!("developer {}", wish.developer),
            strength: wish.developer.label_percent()?,
            share: Share::parts(1),
        };
        let side = DeveloperSide { ratio: wish.ratio, parts: vec![developer] };
        let recipe = Recipe { products: wish.products.clone(), developer: Some(side) };
        let weighing = Mix { recipe, amount: wish.amount }.weigh()?;
        let on_head = on_head_of_weighing(&weighing)?;
        let findings: Vec<Findings> = self
            .rules()?
            .iter()
            .map(|set| set.check(Substance::HydrogenPeroxide, UsedOn::Hair, on_head))
            .collect();
        let lightener = wish.products.iter().any(|part| part.kind == ProductKind::Lightener);
        Ok(Reckoned {
            said: findings.iter().flat_map(Findings::sentences).collect(),
            cautions: cautions::for_mix(lightener),
            weighing,
            on_head,
            findings,
        })
    }

    /// Blends developers to a strength that is not on the shelf; water is 0. Nothing is noted.
    ///
    /// # Errors
    /// [`StationError`], saying between which strengths the target would have to lie.
    pub fn reckon_blend(
        &self,
        total: Grams,
        target: Strength,
        from: &[Strength],
    ) -> Result<Blended, StationError> {
        let strengths = from.iter().map(|one| one.label_percent()).collect::<Result<Vec<_>, TradeError>>()?;
        let blend = blend(&strengths, target.label_percent()?, total)?;
        Ok(Blended { blend, cautions: cautions::for_mix(false) })
    }
}
