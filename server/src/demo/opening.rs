//! A relay, a salon of three stations, its people and its shelf.

use tailcomb_core::station::cautions;

use super::process::once;
use super::stage::{Seat, Stage, WHOLE, text};
use crate::cli::error::CliError;

/// What the salon has on its shelf. Invented; the times stand for what a maker's label says.
const SHELF: &str = include_str!("shelf.csv");

/// Everything is started, joined and put on the shelf.
pub(super) async fn open(stage: &mut Stage) -> Result<(), CliError> {
    let about = "Invented people, clients and products. A relay and three stations start on this machine.";
    stage.scene("A salon opens", about, &[cautions::LABEL.told()]).await;
    stage.open_relay().await?;
    let url = stage.relay_url.clone();
    stage.say(&format!("The relay listens at {url}. It keeps sealed frames and cannot read a card."));
    found(stage, &url).await?;
    for (name, role) in [("Mara Quill", "stylist"), ("Teo Lind", "stylist"), ("Noor Haddad", "associate")] {
        let sentence = format!("{name} joins the staff as {role}.");
        stage.step(Seat::Desk, &sentence, &format!("people add '{name}' --role {role}"), 0).await?;
    }
    for seat in [Seat::One, Seat::Two] {
        join(stage, seat).await?;
    }
    let sentence = "The whole shelf comes from one sheet, as one action.";
    stage.feed(Seat::Desk, sentence, "shelf import -", SHELF, 1).await?;
    stage.together().await?;
    stage.step(Seat::One, "What is on the shelf is on every station.", "shelf list gloss", WHOLE).await
}

async fn found(stage: &mut Stage, url: &str) -> Result<(), CliError> {
    let seat = Seat::Desk;
    let (home, words) = (stage.home(seat), stage.path("recovery-words.txt"));
    let (home, words) = (home.to_string_lossy(), words.to_string_lossy());
    let mut args = vec!["--home", &home, "salon", "found", "Alderlight Colour Room", "--relay", url];
    args.extend(["--zone", "Europe/Lisbon", "--person", seat.person(), "--role", "trainer"]);
    args.extend(["--station", seat.name(), "--words-to", &words]);
    let authority = stage.authority();
    args.extend(authority.iter().map(String::as_str));
    once(&args, "").await?;
    stage.say(&format!("{} founds the salon at the {}.", seat.person(), seat.name()));
    stage.run_station(seat).await
}

async fn join(stage: &mut Stage, seat: Seat) -> Result<(), CliError> {
    let invited = stage.ask(Seat::Desk, "invite").await?;
    let home = stage.home(seat);
    let home = home.to_string_lossy();
    let mut args = vec!["--home", &home, "join", "-", "--station", seat.name(), "--as", seat.person()];
    let authority = stage.authority();
    args.extend(authority.iter().map(String::as_str));
    let joined = once(&args, text(&invited, "link")).await?;
    if text(&joined, "person") != seat.person() {
        return Err(CliError::new("demo", format!("nobody could sign in at {}: {joined}", seat.name())));
    }
    stage.run_station(seat).await?;
    let (name, person) = (seat.name(), seat.person());
    stage.say(&format!("{name} joins by a link that works once; {person} signs in there."));
    Ok(())
}

/// A card with an alert test that may be read now.
pub(super) async fn card(
    stage: &mut Stage,
    seat: Seat,
    name: &str,
    fields: &str,
    product: &str,
) -> Result<(), CliError> {
    stage.step(seat, &format!("A card for {name}."), &format!("client new '{name}' {fields}"), 0).await?;
    stage.ask(seat, &format!("client consent '{name}' health-notes yes")).await?;
    let applied = format!("alert-test apply '{name}' '{product}' --site 'behind the ear' --at '50 h ago'");
    stage.ask(seat, &applied).await?;
    let sentence = "The alert test that was put on two days ago is read, and what was seen is written down.";
    stage.step(seat, sentence, &format!("alert-test read '{name}' nothing"), 1).await
}
