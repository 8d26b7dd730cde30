//! A colour correction that one stylist starts and another finishes.

use tailcomb_core::station::cautions;

use super::opening::card;
use super::stage::{Seat, Stage, WHOLE};
use crate::cli::error::CliError;

/// From the first word to the history that is read months later.
pub(super) async fn correction(stage: &mut Stage) -> Result<(), CliError> {
    let about = "Mara starts it at chair 1 and has to leave; Teo finishes it at chair 2.";
    stage.scene("Lena Moss: a correction changes hands", about, &cautions::for_mix(true)).await;
    start(stage, Seat::One).await?;
    stage.step(Seat::One, "Mara has to go and offers Lena to Teo.", "hand-over Lena Teo", 1).await?;
    stage.together().await?;
    let sentence = "Teo takes her, and reads on one screen what he must know. The timers are his now.";
    stage.step(Seat::Two, sentence, "take Lena", WHOLE).await?;
    finish(stage, Seat::Two).await?;
    stage.together().await?;
    let sentence = "Months later, this is what her card says, at any station.";
    stage.step(Seat::One, sentence, "client history Lena", 24).await
}

async fn start(stage: &mut Stage, seat: Seat) -> Result<(), CliError> {
    card(stage, seat, "Lena Moss", "--natural-level 5 --scalp 'sensitive at the nape'", "beige 7").await?;
    let reacts = "client sensitivity Lena 'lavender fragrance' --severity mild --reaction itching";
    stage.step(seat, "What she does not tolerate.", reacts, 1).await?;
    let band = "client did Lena lengths tint --on 2024-06-02 --note 'dark band from a box tint'";
    stage.step(seat, "What was done before.", band, 1).await?;
    stage.step(seat, "Mara opens the visit.", "visit open Lena 'colour correction'", 6).await?;
    let screen = "visit screen Lena 'done-elsewhere=yes:box tint at home' --others-no";
    stage.step(seat, "The standing questions; one answer calls for care.", screen, 8).await?;
    stage.ask(seat, "visit goal Lena 'the dark band gone, a soft beige all over'").await?;
    stage.ask(seat, "visit target Lena lengths --level 7 --tone beige").await?;
    stage.step(seat, "The map.", "section add Lena 'band left' 'band right' roots ends", 1).await?;
    let ends = "section leave-out Lena ends";
    stage.step(seat, "The ends are left out: they are light enough.", ends, 1).await?;
    let note = "formula note Lena 'lift the band' 'lightener=1 part' --ratio 1:2 --developer '10 vol'";
    stage.step(seat, "A weak lightener for the band alone.", note, 3).await?;
    stage.step(seat, "45 g of it.", "bowl mix Lena lift --total 45g", 4).await?;
    let paint = "paint Lena 'band left' 'band right' --bowl 'bowl 1' --time '30 min'";
    stage.step(seat, "Onto the band.", paint, 2).await?;
    let look = "check Lena 'band left' --level 6 --warmth orange --feel firm";
    stage.step(seat, "A strand check.", look, 1).await
}

async fn finish(stage: &mut Stage, seat: Seat) -> Result<(), CliError> {
    stage.step(seat, "The band has lifted enough.", "rinse Lena", 2).await?;
    stage.step(seat, "2 g were left.", "bowl discard Lena 'bowl 1' 2g", 1).await?;
    let note = "formula note Lena 'even out' 'beige 7=2 parts' 'natural 6=1 part' --ratio 1:1.5 \
                --developer '10 vol'";
    stage.step(seat, "What evens it out.", note, 4).await?;
    stage.step(seat, "60 g of it.", "bowl mix Lena 'even out' --total 60g", 4).await?;
    let paint = "paint Lena 'band left' 'band right' roots --bowl 'bowl 2' --time '20 min'";
    stage.step(seat, "Over band and roots.", paint, 2).await?;
    stage.step(seat, "Another look.", "check Lena 'band right' --level 7 --feel firm", 1).await?;
    stage.step(seat, "Rinsed.", "rinse Lena", 2).await?;
    stage.step(seat, "The bowl is empty.", "bowl used-up Lena 'bowl 2'", 1).await?;
    stage.step(seat, "A mask.", "treatment Lena 'bond mask' --time '5 min'", 2).await?;
    stage.step(seat, "And off.", "timer stop treatment", 1).await?;
    let result = "visit result Lena lengths --level 7 --tone beige --condition 'soft, firm'";
    stage.step(seat, "The result.", result, 1).await?;
    let home = "visit note Lena 'mild shampoo, no heat for three days' --about home-care";
    stage.step(seat, "What to do at home.", home, 1).await?;
    stage.step(seat, "Lena's visit is closed.", "visit close Lena", 5).await
}
