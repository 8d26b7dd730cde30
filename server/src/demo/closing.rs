//! The close of the day with its proof, and what one can do while the salon stays up.

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
            let digest = s.digest.get(..16).unwrap_or(&s.digest).to_owned();
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
    stage.say(&format!(
        "\nThe salon stays up until Ctrl-C. In another terminal:\n\
         \n  look at the floor    {program} --home {desk} floor\
         \n  join as a station    {program} --home my-station join '{link}' --station mine --as Mara\
         \n                       (works once, until {until}; another link: {program} --home {desk} invite)\
         \n  ask                  {program} --home {two} client history Lena\
         \n  start a timer        {program} --home {one} timer start 'tea' '3 min'",
        desk = home(Seat::Desk),
        one = home(Seat::One),
        two = home(Seat::Two),
        link = text(&invited, "link"),
        until = text(&invited, "until"),
    ));
    Ok(())
}
