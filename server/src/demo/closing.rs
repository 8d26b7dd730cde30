//! The close of the day with its proof, and what one can do while the salon stays up.

use serde_json::Value;

use super::stage::{Proof, Seat, Stage, WHOLE, text};
use crate::cli::error::CliError;
use crate::cli::output::aligned;

/// The day is closed on what every station states.
pub(super) async fn close(stage: &mut Stage) -> Result<Proof, CliError> {
    let about = "Every station states what it holds; the day closes only if it is the same.";
    stage.scene("The day is closed", about, &[]).await;
    stage.together().await?;
    stage.step(Seat::Desk, "What the day used, and what is left to do.", "day summary", WHOLE).await?;
    for seat in Seat::ALL {
        stage.step(seat, "This station states what it holds.", "day state", 1).await?;
        stage.together().await?;
    }
    stage.step(Seat::Desk, "Ines closes the day on the proof.", "day close", WHOLE).await?;
    let proof = stage.proof().await?;
    let rows: Vec<Vec<String>> = proof
        .stations
        .iter()
        .map(|s| {
            // As `status` and the phones show it.
            let groups = [s.digest.get(..4), s.digest.get(4..8), s.digest.get(8..12)];
            let digest = groups.map(Option::unwrap_or_default).join("-");
            let (documents, unsent) =
                (format!("{} documents", s.documents), format!("{} not sent", s.unsent));
            vec![s.station.to_owned(), digest, documents, unsent]
        })
        .collect();
    stage.say(&format!("\nAll three stations hold the same record:\n{}", aligned(2, &rows)));
    Ok(proof)
}

/// Says what one can do now.
pub(super) async fn stay(stage: &mut Stage) -> Result<(), CliError> {
    let invited = stage.ask(Seat::Desk, "invite").await?;
    let home = |seat| stage.home(seat).display().to_string();
    // As it was called, so that the lines can be copied.
    let program = std::env::args_os().next().map_or("tailcomb".into(), |p| p.to_string_lossy().into_owned());
    let joining = std::iter::once(String::new()).chain(stage.authority()).collect::<Vec<_>>().join(" ");
    stage.say(&format!(
        "\nThe salon stays up until Ctrl-C. In another terminal:\n\
         \n  look at the floor    {program} --home {desk} floor\
         \n  join as a station    {program} --home my-station join '{link}'{joining} --station mine --as Mara\
         \n                       (works once, until {until}; another link: {program} --home {desk} invite)\
         \n  ask                  {program} --home {two} client history Lena\
         \n  start a timer        {program} --home {one} timer start 'tea' '3 min'",
        desk = home(Seat::Desk),
        one = home(Seat::One),
        two = home(Seat::Two),
        link = text(&invited, "link"),
        until = text(&invited, "until"),
    ));
    tell_of_phones(stage, &program).await
}

/// How the phone app is opened, in a browser here or on a phone.
async fn tell_of_phones(stage: &Stage, program: &str) -> Result<(), CliError> {
    if stage.opened.get("app").and_then(Value::as_bool) != Some(true) {
        stage.say("\nThe phone app is not in this build: make phone, or make demo, builds it.");
        return Ok(());
    }
    let link = text(&stage.ask(Seat::Desk, "invite").await?, "link").to_owned();
    if !stage.phones {
        stage.say(&format!(
            "\nThe phone app, in a browser on this machine (one station more; sign in as Mara):\n\
             \n  {link}\n\
             \nOn a phone of this network: {program} demo --phones (make demo ARGS=--phones)"
        ));
        return Ok(());
    }
    if text(&stage.opened, "trust").contains("//127.") {
        stage.say("\nThis machine has no address on a private network, so no phone can reach it; a browser here can.");
    }
    let fingerprint = text(&stage.opened, "fingerprint").replace(':', " ");
    let (first, second) = fingerprint.split_at(fingerprint.len() / 2);
    stage.say(&format!(
        "\nThe phone app, on a phone of this network:\n\
         \n  1. open {trust} there and do what it says, if it shows\
         \n       {first}\
         \n       {second}\
         \n  2. open this (works once, for ten minutes), and sign in as Mara:\
         \n       {link}",
        trust = text(&stage.opened, "trust"),
        first = first.trim(),
        second = second.trim(),
    ));
    Ok(())
}
