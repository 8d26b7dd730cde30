//! Partial foils in three bowls that step up in strength, then a copper gloss; and a station that loses the network in
//! the middle of it.

use serde_json::Value;
use tailcomb_core::station::cautions;

use super::opening::card;
use super::stage::{Seat, Stage, WHOLE, text};
use crate::cli::error::CliError;

/// Until the first bowl is in.
pub(super) async fn begin(stage: &mut Stage) -> Result<(), CliError> {
    let two = Seat::Two;
    let about = "Teo works at chair 2 while Rosa's tint develops at chair 1.";
    stage.scene("Ivo Brandt: partial foils, three bowls", about, &cautions::for_mix(true)).await;
    card(stage, two, "Ivo Brandt", "--natural-level 6 --porosity medium", "copper 7").await?;
    stage.step(two, "Teo opens the visit.", "visit open Ivo 'partial foils, copper gloss'", 2).await?;
    stage.ask(two, "visit screen Ivo --others-no").await?;
    stage.ask(two, "visit target Ivo foils --level 8 --tone copper").await?;
    let map = format!("section add Ivo {} --area 'crown and sides' --symbol F", foils(1..=12));
    stage.step(two, "Twelve foils on the map.", &map, 1).await?;
    let note = "formula note Ivo foils 'lightener=1 part' --ratio 1:2 --developer '10 vol'";
    stage.step(two, "Lightener one to two.", note, 3).await?;
    let gloss = "formula note Ivo gloss 'copper 7=1 part' 'clear=1 part' --ratio 1:1.5 --developer '10 vol'";
    stage.step(two, "And the gloss that follows.", gloss, 3).await?;
    let service = "bowl service Ivo foils --each 8g --pace '5 min' --first '10 vol' --last '30 vol'";
    let why =
        "A bowl works for 20 minutes and a foil takes 5: three small bowls, a stronger developer as he goes.";
    stage.step(two, why, service, WHOLE).await?;
    bowl(stage, 1).await
}

fn foils(numbers: impl Iterator<Item = usize>) -> String {
    numbers.map(|n| format!("'foil {n}'")).collect::<Vec<_>>().join(" ")
}

/// Mixes a planned bowl, paints its four foils, and uses it up.
async fn bowl(stage: &mut Stage, number: usize) -> Result<(), CliError> {
    let (two, last) = (Seat::Two, number * 4);
    let sentence = format!("Bowl {number} is mixed as planned; its 20 minutes begin.");
    stage.step(two, &sentence, &format!("bowl mixed Ivo 'bowl {number}'"), 4).await?;
    let paint = format!("paint Ivo {} --bowl 'bowl {number}' --time '40 min'", foils(last - 3..=last));
    stage.step(two, "Four foils go in.", &paint, 2).await?;
    let sentence = format!("Nothing is left of bowl {number}.");
    stage.step(two, &sentence, &format!("bowl used-up Ivo 'bowl {number}'"), 1).await
}

/// Chair 2 loses the network, works on, and comes back to find that others changed the same things.
pub(super) async fn apart(stage: &mut Stage) -> Result<(), CliError> {
    let two = Seat::Two;
    let about =
        "Everything is on the station itself, so work goes on. Nobody sees the other's changes meanwhile.";
    stage.scene("Chair 2 loses the network", about, &cautions::for_time()).await;
    stage.together().await?;
    stage.step(two, "The network goes.", "network off", 1).await?;
    bowl(stage, 2).await?;
    let look = "check Ivo 'foil 1' --level 7 --warmth gold --feel firm";
    stage.step(two, "A strand check on the first foil.", look, 1).await?;
    let sentence = "Teo gives the first foils five minutes more.";
    stage.step(two, sentence, "timer add 'foil 1' '5 min'", 1).await?;
    stage.step(two, "He makes the gloss stronger.", "formula set Ivo 'copper 7=2 parts'", 1).await?;
    stage.step(two, "The status says so in words.", "status", 2).await?;
    let status = stage.ask(two, "status").await?;
    let unsent = status.get("status").and_then(|s| s.get("unsent")).and_then(Value::as_u64).unwrap_or(0);
    if unsent == 0 {
        return Err(CliError::new("demo", "chair 2 was off the network, but nothing waits to be sent"));
    }
    let sentence = "Mara, who keeps an eye on Ivo, gives the same foils ten minutes more.";
    stage.step(Seat::One, sentence, "timer add 'foil 1' '10 min'", 1).await?;
    let lighter = "formula set Ivo 'copper 7=0.5 parts'";
    stage.step(Seat::Desk, "Ines makes the same gloss lighter.", lighter, 1).await?;
    let sentence = format!("The network is back; {unsent} changes go out, and those of the others come in.");
    stage.step(two, &sentence, "network on", 1).await?;
    stage.together().await?;
    stage.say(
        "Nothing was overwritten: the timer rings at the earlier of both times, and both gloss lines stand until \
         somebody settles.",
    );
    settle(stage).await
}

async fn settle(stage: &mut Stage) -> Result<(), CliError> {
    let two = Seat::Two;
    stage.step(two, "What people said apart.", "questions visit Ivo", WHOLE).await?;
    let asked = open_questions(stage, two).await?;
    if asked.len() != 2 {
        return Err(CliError::new("demo", format!("two questions were expected, not {}", asked.len())));
    }
    for question in &asked {
        let sentence = format!("Teo settles it: {}.", text(question, "place"));
        stage.step(two, &sentence, &format!("settle {} 1", text(question, "mark")), 1).await?;
    }
    stage.together().await?;
    for seat in Seat::ALL {
        let left = open_questions(stage, seat).await?.len();
        if left > 0 {
            return Err(CliError::new("demo", format!("{left} questions are still open at {}", seat.name())));
        }
    }
    Ok(())
}

async fn open_questions(stage: &Stage, seat: Seat) -> Result<Vec<Value>, CliError> {
    let asked = stage.ask(seat, "questions").await?;
    let asked = asked.get("questions").and_then(Value::as_array).cloned();
    asked.ok_or_else(|| CliError::new("demo", format!("{} lists no questions", seat.name())))
}

/// The third bowl, the rinse, the copper gloss.
pub(super) async fn finish(stage: &mut Stage) -> Result<(), CliError> {
    let two = Seat::Two;
    let about = "The strongest bowl goes in last.";
    stage.scene("Ivo Brandt: the last bowl, then copper", about, &cautions::for_mix(true)).await;
    bowl(stage, 3).await?;
    stage.step(two, "What is on which foil since when.", "section list Ivo", 12).await?;
    let look = "check Ivo 'foil 9' --level 8 --warmth yellow --feel firm";
    stage.step(two, "The strand is where it should be.", look, 1).await?;
    stage.step(two, "All foils are rinsed, all their timers end.", "rinse Ivo", 2).await?;
    stage.step(two, "The gloss is mixed.", "bowl mix Ivo gloss --total 60g", 5).await?;
    let on = "gloss Ivo 'House gloss copper 7' --time '20 min' --bowl 'bowl 4'";
    stage.step(two, "It goes on at the basin.", on, 2).await?;
    stage.step(two, "The tone is there, by eye: off it comes.", "timer stop gloss", 1).await?;
    stage.step(two, "6 g are left.", "bowl discard Ivo 'bowl 4' 6g", 1).await?;
    let result = "visit result Ivo foils --level 8 --tone copper --line '3 cm' --condition firm";
    let sentence = "The result, and where the lightener line sits, so that months later nobody overlaps it.";
    stage.step(two, sentence, result, 1).await?;
    stage.step(two, "Ivo's visit is closed.", "visit close Ivo", 5).await
}
