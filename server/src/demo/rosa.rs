//! A regrowth tint over 40 % white hair, planned and worked by an associate.

use serde_json::Value;
use tailcomb_core::station::cautions;

use super::opening::card;
use super::stage::{Seat, Stage, WHOLE, text};
use crate::cli::error::CliError;

/// Until the tint is on the hair.
pub(super) async fn plan(stage: &mut Stage) -> Result<(), CliError> {
    let one = Seat::One;
    let about = "Noor, an associate, works at Mara's chair. The house rule: a trainer reads an associate's plan first.";
    stage.scene("Rosa Vale: regrowth over 40 % white", about, &cautions::for_mix(false)).await;
    card(stage, one, "Rosa Vale", "--natural-level 5 --white 40 --texture coarse", "natural 6").await?;
    let ends = "client did Rosa ends lightener --on 2024-05-18 --line '14 cm'";
    stage.step(one, "Old lightener in the ends goes on the card.", ends, 1).await?;
    let open = "--as Noor visit open Rosa 'regrowth tint'";
    stage.step(one, "Noor opens the visit and sees what to watch.", open, 6).await?;
    stage.ask(one, "--as Noor visit screen Rosa --others-no").await?;
    stage.ask(one, "--as Noor visit goal Rosa 'cover the white, soft at the hairline'").await?;
    stage.ask(one, "--as Noor visit target Rosa regrowth --level 6 --tone natural").await?;
    let map = "--as Noor section add Rosa nape crown sides hairline --direction 'back to front'";
    stage.step(one, "The section map, in the order of work; the ends are not on it.", map, 1).await?;
    let note = "--as Noor formula note Rosa regrowth 'natural 6=1 part' 'gold 6=1 part' --ratio 1:1 \
                --developer '20 vol'";
    stage.step(one, "The formula: natural and gold in equal parts.", note, 6).await?;
    let mix = "--as Noor bowl mix Rosa --total 60g";
    stage.step(one, "What goes on the scale for 60 g, and what meets the hair.", mix, WHOLE).await?;

    let time = stage.quick(35);
    let paint = format!("--as Noor paint Rosa all --bowl 'bowl 1' --time '{time}'");
    stage.refused(one, "Noor reaches for the brush too early.", &paint, "countersign").await?;
    stage.step(one, "So Noor asks.", "--as Noor countersign ask Rosa", 1).await?;
    stage.together().await?;
    let shown = stage.ask(Seat::Desk, "countersign show Rosa").await?;
    stage.step(Seat::Desk, "Ines reads the plan at her own desk.", "countersign show Rosa", 10).await?;
    let agree = format!("countersign agree Rosa --plan {} --note 'hairline last'", text(&shown, "plan"));
    stage.step(Seat::Desk, "She countersigns exactly the plan that she read.", &agree, 1).await?;
    let agreed = |v: &Value| text(v, "state") == "agreed";
    stage.until(one, "countersign show Rosa", agreed).await?;
    let quick =
        format!("(35 minutes of the label last {time} here, so that nobody has to wait for the alarm.)");
    stage.say(&quick);
    stage.step(one, "Now it goes on, and its timer runs at every station.", &paint, 3).await?;
    stage.step(one, "4 g stay in the bowl.", "--as Noor bowl discard Rosa 'bowl 1' 4g", 1).await
}

/// The alarm, silenced from another station, and the rest.
pub(super) async fn finish(stage: &mut Stage) -> Result<(), CliError> {
    let (one, two) = (Seat::One, Seat::Two);
    stage
        .scene("Rosa's alarm", "It rings at every station. Noor's hands are full.", &cautions::for_time())
        .await;
    stage.alarm(one, "ringing", "nape").await?;
    stage.alarm(two, "ringing", "nape").await?;
    stage.step(two, "The floor board at chair 2 shows it.", "floor --once --width 100", WHOLE).await?;
    let look = "--as Noor check Rosa hairline --level 6 --feel firm --note 'white covered'";
    stage.step(one, "A strand from the hairline is looked at.", look, 1).await?;
    stage.step(two, "Teo silences the alarm from his station.", "timer silence nape", 1).await?;
    stage.alarm(one, "quiet", "nape").await?;
    stage.say("It is quiet at chair 1, too.");
    stage.step(one, "Rosa is rinsed; the timer ends with it.", "--as Noor rinse Rosa", 2).await?;
    let result =
        "--as Noor visit result Rosa regrowth --level 6 --tone natural --condition 'even, white covered'";
    stage.step(one, "The result is noted.", result, 1).await?;
    let sentence = "Rosa's visit is closed; what was done is on her card.";
    stage.step(one, sentence, "--as Noor visit close Rosa", 4).await
}
