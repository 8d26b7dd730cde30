//! The day, scene by scene. Each step is one command that people use; what has to come over the network is waited for,
//! never guessed.

use serde_json::Value;
use tailcomb_core::station::cautions;

use super::process::once;
use super::stage::{Proof, Seat, Stage, text};
use crate::cli::error::CliError;
use crate::cli::output::aligned;

/// All of an answer.
const WHOLE: usize = usize::MAX;

/// A relay, a salon of three stations, its people and its shelf.
pub(super) async fn open(stage: &mut Stage) -> Result<(), CliError> {
    stage
        .scene(
            "A salon opens",
            "Invented people, clients and products. A relay and three stations start on this machine.",
            &[cautions::LABEL],
        )
        .await;
    stage.open_relay().await?;
    stage.say(&format!(
        "The relay listens at {}. It keeps sealed frames and cannot read a card.",
        stage.relay_url
    ));
    let (words, url) = (stage.path("recovery-words.txt"), stage.relay_url.clone());
    let home = stage.home(Seat::Desk);
    let (home, words) = (home.to_string_lossy().into_owned(), words.to_string_lossy().into_owned());
    once(
        &[
            "--home",
            &home,
            "salon",
            "found",
            "Alderlight Colour Room",
            "--zone",
            "Europe/Lisbon",
            "--relay",
            &url,
            "--person",
            Seat::Desk.person(),
            "--role",
            "trainer",
            "--station",
            Seat::Desk.name(),
            "--words-to",
            &words,
        ],
        "",
    )
    .await?;
    stage.say(&format!("{} founds the salon at the {}.", Seat::Desk.person(), Seat::Desk.name()));
    stage.run_station(Seat::Desk).await?;
    for (name, role) in [("Mara Quill", "stylist"), ("Teo Lind", "stylist"), ("Noor Haddad", "associate")] {
        let sentence = format!("{name} joins the staff as {role}.");
        stage.step(Seat::Desk, &sentence, &["people", "add", name, "--role", role], 0).await?;
    }
    for seat in [Seat::One, Seat::Two] {
        let invited = stage.ask(Seat::Desk, &["invite"]).await?;
        let home = stage.home(seat).to_string_lossy().into_owned();
        let joined = once(
            &["--home", &home, "join", "-", "--station", seat.name(), "--as", seat.person()],
            text(&invited, "link"),
        )
        .await?;
        if text(&joined, "person") != seat.person() {
            return Err(CliError::new("demo", format!("nobody could sign in at {}: {joined}", seat.name())));
        }
        stage.run_station(seat).await?;
        stage.say(&format!(
            "{} joins by a link that works once; {} signs in there.",
            seat.name(),
            seat.person()
        ));
    }
    fill_shelf(stage).await?;
    stage.together().await?;
    stage.step(Seat::One, "What is on the shelf is on every station.", &["shelf", "list"], WHOLE).await
}

async fn fill_shelf(stage: &Stage) -> Result<(), CliError> {
    let tint = ["--kind", "shade", "--ratio", "1:1", "1:1.5", "--life", "30 min", "--longest", "45 min"];
    let gloss = ["--kind", "gloss", "--ratio", "1:1.5", "1:2", "--life", "30 min", "--longest", "25 min"];
    let lift = ["--kind", "lightener", "--ratio", "1:1.5", "1:2", "--life", "20 min", "--longest", "50 min"];
    let tube = ["--price", "8.40 EUR", "--pack", "60g"];
    let tub = ["--price", "26.00 EUR", "--pack", "500g"];
    let bottle = ["--price", "9.50 EUR", "--pack", "1000ml"];
    let shade = |name: &'static str, level: &'static str, tone: &'static str| {
        [&["House colour", name, "--level", level, "--tone", tone], tint.as_slice(), &tube].concat()
    };
    let developer = |name: &'static str, strength: &'static str| {
        [&["House peroxide", name, "--kind", "developer", "--strength", strength], bottle.as_slice()].concat()
    };
    let products = [
        shade("natural 6", "6", "natural"),
        shade("gold 6", "6", "gold"),
        shade("beige 7", "7", "beige"),
        [&["House gloss", "copper 7", "--level", "7", "--tone", "copper"], gloss.as_slice(), &tube].concat(),
        [
            &["House gloss", "clear", "--kind", "clear", "--ratio", "1:1.5", "1:2", "--longest", "25 min"],
            tube.as_slice(),
        ]
        .concat(),
        [&["House lift", "lightener"], lift.as_slice(), &tub].concat(),
        developer("developer 10 vol", "10 vol"),
        developer("developer 20 vol", "20 vol"),
        developer("developer 30 vol", "30 vol"),
        vec!["House care", "bond mask", "--kind", "treatment"],
    ];
    for product in products {
        let args = [["shelf", "add"].as_slice(), &product].concat();
        stage.ask(Seat::Desk, &args).await?;
    }
    Ok(())
}

/// A card with an alert test that may be read now.
async fn card(stage: &mut Stage, seat: Seat, new: &[&str], product: &str) -> Result<(), CliError> {
    let name = new.first().copied().unwrap_or_default();
    let sentence = format!("A card for {name}.");
    stage.step(seat, &sentence, &[["client", "new"].as_slice(), new].concat(), 0).await?;
    stage.ask(seat, &["client", "consent", name, "health-notes", "yes"]).await?;
    let applied = ["alert-test", "apply", name, product, "--site", "behind the ear", "--at", "50 h ago"];
    stage.ask(seat, &applied).await?;
    let sentence = "The alert test that was put on two days ago is read, and what was seen is written down.";
    stage.step(seat, sentence, &["alert-test", "read", name, "nothing"], 1).await
}

/// A regrowth tint over 40 % white hair, planned and worked by an associate.
pub(super) async fn regrowth(stage: &mut Stage) -> Result<(), CliError> {
    let one = Seat::One;
    stage
        .scene(
            "Rosa Vale: regrowth over 40 % white",
            "Noor, an associate, works at Mara's chair. The salon's rule: a trainer reads an associate's plan first.",
            &cautions::for_mix(false),
        )
        .await;
    let rosa = ["Rosa Vale", "--natural-level", "5", "--white", "40", "--texture", "coarse"];
    card(stage, one, &rosa, "natural 6").await?;
    let ends = ["client", "did", "Rosa", "ends", "lightener", "--on", "2024-05-18", "--line", "14 cm"];
    stage.step(one, "Old lightener in the ends goes on the card.", &ends, 1).await?;
    let open = ["--as", "Noor", "visit", "open", "Rosa", "regrowth tint"];
    stage.step(one, "Noor opens the visit and sees what to watch.", &open, 6).await?;
    stage.ask(one, &["--as", "Noor", "visit", "screen", "Rosa", "--others-no"]).await?;
    stage
        .ask(one, &["--as", "Noor", "visit", "goal", "Rosa", "cover the white, soft at the hairline"])
        .await?;
    stage
        .ask(
            one,
            &["--as", "Noor", "visit", "target", "Rosa", "regrowth", "--level", "6", "--tone", "natural"],
        )
        .await?;
    let map = [
        "--as",
        "Noor",
        "section",
        "add",
        "Rosa",
        "nape",
        "crown",
        "sides",
        "hairline",
        "--direction",
        "back to front",
    ];
    stage.step(one, "The section map, in the order of work; the ends are not on it.", &map, 1).await?;
    let note = [
        "--as",
        "Noor",
        "formula",
        "note",
        "Rosa",
        "regrowth",
        "natural 6=1 part",
        "gold 6=1 part",
        "--ratio",
        "1:1",
        "--developer",
        "20 vol",
    ];
    stage.step(one, "The formula: natural and gold in equal parts.", &note, 6).await?;
    let mix = ["--as", "Noor", "bowl", "mix", "Rosa", "--total", "60g"];
    stage.step(one, "What goes on the scale for 60 g, and what meets the hair.", &mix, WHOLE).await?;
    let tint_time = stage.quick(35);
    let paint = ["--as", "Noor", "paint", "Rosa", "all", "--bowl", "bowl 1", "--time", &tint_time];
    stage.refused(one, "Noor reaches for the brush too early.", &paint, "countersign").await?;
    stage.step(one, "So Noor asks.", &["--as", "Noor", "countersign", "ask", "Rosa"], 1).await?;
    stage.together().await?;
    let shown = stage.ask(Seat::Desk, &["countersign", "show", "Rosa"]).await?;
    let mark = text(&shown, "plan").to_owned();
    stage
        .step(Seat::Desk, "Ines reads the plan at her own desk.", &["countersign", "show", "Rosa"], 10)
        .await?;
    let agree = ["countersign", "agree", "Rosa", "--plan", &mark, "--note", "hairline last"];
    stage.step(Seat::Desk, "She countersigns exactly the plan that she read.", &agree, 1).await?;
    let agreed = |v: &Value| text(v, "state") == "agreed";
    stage.until(one, &["countersign", "show", "Rosa"], agreed).await?;
    stage.say(&format!(
        "(35 minutes of the label last {tint_time} here, so that nobody has to wait for the alarm.)"
    ));
    stage.step(one, "Now it goes on, and its timer runs at every station.", &paint, 3).await?;
    stage
        .step(one, "4 g stay in the bowl.", &["--as", "Noor", "bowl", "discard", "Rosa", "bowl 1", "4g"], 1)
        .await
}

/// Partial foils in three bowls that step up; the first bowl, and Rosa's alarm in the middle of it.
pub(super) async fn foils(stage: &mut Stage) -> Result<(), CliError> {
    let (one, two) = (Seat::One, Seat::Two);
    stage
        .scene(
            "Ivo Brandt: partial foils, three bowls",
            "Teo works at chair 2 while Rosa's tint develops at chair 1.",
            &cautions::for_mix(true),
        )
        .await;
    card(stage, two, &["Ivo Brandt", "--natural-level", "6", "--porosity", "medium"], "copper 7").await?;
    let open = ["visit", "open", "Ivo", "partial foils, copper gloss"];
    stage.step(two, "Teo opens the visit.", &open, 2).await?;
    stage.ask(two, &["visit", "screen", "Ivo", "--others-no"]).await?;
    stage.ask(two, &["visit", "target", "Ivo", "foils", "--level", "8", "--tone", "copper"]).await?;
    let names: Vec<String> = (1..=12).map(|n| format!("foil {n}")).collect();
    let mut map = vec!["section", "add", "Ivo"];
    map.extend(names.iter().map(String::as_str));
    map.extend(["--area", "crown and sides", "--symbol", "F"]);
    stage.step(two, "Twelve foils on the map.", &map, 1).await?;
    let note =
        ["formula", "note", "Ivo", "foils", "lightener=1 part", "--ratio", "1:2", "--developer", "10 vol"];
    stage.step(two, "Lightener one to two.", &note, 3).await?;
    let gloss = [
        "formula",
        "note",
        "Ivo",
        "gloss",
        "copper 7=1 part",
        "clear=1 part",
        "--ratio",
        "1:1.5",
        "--developer",
        "10 vol",
    ];
    stage.step(two, "And the gloss that follows.", &gloss, 3).await?;
    let service = [
        "bowl", "service", "Ivo", "foils", "--each", "8g", "--pace", "5 min", "--first", "10 vol", "--last",
        "30 vol",
    ];
    let why =
        "A bowl works for 20 minutes and a foil takes 5: three small bowls, a stronger developer as he goes.";
    stage.step(two, why, &service, WHOLE).await?;
    foil_bowl(stage, 1).await?;

    stage.alarm(one, "ringing", "nape").await?;
    stage.alarm(two, "ringing", "nape").await?;
    stage.say("Rosa's alarm rings at every station. Noor's hands are full.");
    stage
        .step(two, "The floor board at chair 2 shows it.", &["floor", "--once", "--width", "100"], WHOLE)
        .await?;
    let look = [
        "--as",
        "Noor",
        "check",
        "Rosa",
        "hairline",
        "--level",
        "6",
        "--feel",
        "firm",
        "--note",
        "white covered",
    ];
    stage.step(one, "A strand from the hairline is looked at.", &look, 1).await?;
    stage.step(two, "Teo silences the alarm from his station.", &["timer", "silence", "nape"], 1).await?;
    stage.alarm(one, "quiet", "nape").await?;
    stage.say("It is quiet at chair 1, too.");
    stage.step(one, "Rosa is rinsed; the timer ends with it.", &["--as", "Noor", "rinse", "Rosa"], 2).await?;
    let result = [
        "--as",
        "Noor",
        "visit",
        "result",
        "Rosa",
        "regrowth",
        "--level",
        "6",
        "--tone",
        "natural",
        "--condition",
        "even, white covered",
    ];
    stage.step(one, "The result is noted.", &result, 1).await?;
    stage
        .step(
            one,
            "Rosa's visit is closed; what was done is on her card.",
            &["--as", "Noor", "visit", "close", "Rosa"],
            4,
        )
        .await
}

/// Mixes a planned bowl, paints its four foils, and uses it up.
async fn foil_bowl(stage: &mut Stage, number: usize) -> Result<(), CliError> {
    let bowl = format!("bowl {number}");
    let sentence = format!("Bowl {number} is mixed as planned; its 20 minutes begin.");
    stage.step(Seat::Two, &sentence, &["bowl", "mixed", "Ivo", &bowl], 4).await?;
    let foils: Vec<String> = (number * 4 - 3..=number * 4).map(|n| format!("foil {n}")).collect();
    let mut paint = vec!["paint", "Ivo"];
    paint.extend(foils.iter().map(String::as_str));
    paint.extend(["--bowl", &bowl, "--time", "40 min"]);
    stage.step(Seat::Two, "Four foils go in.", &paint, 2).await?;
    let sentence = format!("Nothing is left of bowl {number}.");
    stage.step(Seat::Two, &sentence, &["bowl", "used-up", "Ivo", &bowl], 1).await
}

/// Chair 2 loses the network, works on, and comes back to find that others changed the same things.
pub(super) async fn apart(stage: &mut Stage) -> Result<(), CliError> {
    let two = Seat::Two;
    stage
        .scene(
            "Chair 2 loses the network",
            "Everything is on the station itself, so work goes on. Nobody can see the other's changes meanwhile.",
            &cautions::for_time(),
        )
        .await;
    stage.together().await?;
    stage.step(two, "The network goes.", &["network", "off"], 1).await?;
    foil_bowl(stage, 2).await?;
    let look = ["check", "Ivo", "foil 1", "--level", "7", "--warmth", "gold", "--feel", "firm"];
    stage.step(two, "A strand check on the first foil.", &look, 1).await?;
    stage
        .step(two, "Teo gives the first foils five minutes more.", &["timer", "add", "foil 1", "5 min"], 1)
        .await?;
    stage
        .step(two, "He makes the gloss stronger.", &["formula", "set", "Ivo", "copper 7=2 parts"], 1)
        .await?;
    stage.step(two, "The status says so in words.", &["status"], 2).await?;
    let status = stage.ask(two, &["status"]).await?;
    let unsent = status.get("status").and_then(|s| s.get("unsent")).and_then(Value::as_u64).unwrap_or(0);
    if unsent == 0 {
        return Err(CliError::new("demo", "chair 2 was off the network, but nothing waits to be sent"));
    }
    let sentence = "Mara, who keeps an eye on Ivo, gives the same foils ten minutes more.";
    stage.step(Seat::One, sentence, &["timer", "add", "foil 1", "10 min"], 1).await?;
    let sentence = "Ines makes the same gloss lighter.";
    stage.step(Seat::Desk, sentence, &["formula", "set", "Ivo", "copper 7=0.5 parts"], 1).await?;
    let sentence = format!("The network is back; {unsent} changes go out, and those of the others come in.");
    stage.step(two, &sentence, &["network", "on"], 1).await?;
    stage.together().await?;
    stage.say("Nothing was overwritten: the timer rings at the earlier of both times, and both gloss lines stand until somebody settles.");
    stage.step(two, "What people said apart.", &["questions", "visit", "Ivo"], WHOLE).await?;
    let asked = stage.ask(two, &["questions", "visit", "Ivo"]).await?;
    let asked = asked.get("questions").and_then(Value::as_array).cloned().unwrap_or_default();
    if asked.len() != 2 {
        return Err(CliError::new("demo", format!("two questions were expected, not {}", asked.len())));
    }
    for question in &asked {
        let sentence = format!("Teo settles it: {}.", text(question, "place"));
        stage.step(two, &sentence, &["settle", text(question, "mark"), "1"], 1).await?;
    }
    stage.together().await?;
    for seat in Seat::ALL {
        let left = stage.ask(seat, &["questions"]).await?;
        if left.get("questions").and_then(Value::as_array).is_none_or(|q| !q.is_empty()) {
            return Err(CliError::new(
                "demo",
                format!("a question is still open at {}: {left}", seat.name()),
            ));
        }
    }
    Ok(())
}

/// The third bowl, the rinse, the copper gloss.
pub(super) async fn gloss(stage: &mut Stage) -> Result<(), CliError> {
    let two = Seat::Two;
    stage.scene("Ivo Brandt: the last bowl, then copper", "The strongest bowl goes in last.", &[]).await;
    foil_bowl(stage, 3).await?;
    let map = "What is on which foil since when.";
    stage.step(two, map, &["section", "list", "Ivo"], 12).await?;
    let look = ["check", "Ivo", "foil 9", "--level", "8", "--warmth", "yellow", "--feel", "firm"];
    stage.step(two, "The strand is where it should be.", &look, 1).await?;
    stage.step(two, "All foils are rinsed, all their timers end.", &["rinse", "Ivo"], 2).await?;
    stage.step(two, "The gloss is mixed.", &["bowl", "mix", "Ivo", "gloss", "--total", "60g"], 5).await?;
    let on = ["gloss", "Ivo", "House gloss copper 7", "--time", "20 min", "--bowl", "bowl 4"];
    stage.step(two, "It goes on at the basin.", &on, 2).await?;
    stage.step(two, "The tone is there, by eye: off it comes.", &["timer", "stop", "gloss"], 1).await?;
    stage.step(two, "6 g are left.", &["bowl", "discard", "Ivo", "bowl 4", "6g"], 1).await?;
    let result = [
        "visit",
        "result",
        "Ivo",
        "foils",
        "--level",
        "8",
        "--tone",
        "copper",
        "--line",
        "3 cm",
        "--condition",
        "firm",
    ];
    let sentence = "The result, and where the lightener line sits, so that months later nobody overlaps it.";
    stage.step(two, sentence, &result, 1).await?;
    stage.step(two, "Ivo's visit is closed.", &["visit", "close", "Ivo"], 5).await
}

/// A correction that one stylist starts and another finishes.
pub(super) async fn correction(stage: &mut Stage) -> Result<(), CliError> {
    let (one, two) = (Seat::One, Seat::Two);
    stage
        .scene(
            "Lena Moss: a correction changes hands",
            "Mara starts it at chair 1 and has to leave; Teo finishes it at chair 2.",
            &cautions::for_mix(true),
        )
        .await;
    let lena = ["Lena Moss", "--natural-level", "5", "--scalp", "sensitive at the nape"];
    card(stage, one, &lena, "beige 7").await?;
    let reacts = [
        "client",
        "sensitivity",
        "Lena",
        "lavender fragrance",
        "--severity",
        "mild",
        "--reaction",
        "itching",
    ];
    stage.step(one, "What she does not tolerate.", &reacts, 1).await?;
    let band = [
        "client",
        "did",
        "Lena",
        "lengths",
        "tint",
        "--on",
        "2024-06-02",
        "--note",
        "dark band from a box tint",
    ];
    stage.step(one, "What was done before.", &band, 1).await?;
    stage.step(one, "Mara opens the visit.", &["visit", "open", "Lena", "colour correction"], 6).await?;
    let screen = ["visit", "screen", "Lena", "done-elsewhere=yes:box tint at home last June", "--others-no"];
    stage.step(one, "The standing questions; one answer calls for care.", &screen, 8).await?;
    stage.ask(one, &["visit", "goal", "Lena", "the dark band gone, a soft beige all over"]).await?;
    stage.ask(one, &["visit", "target", "Lena", "lengths", "--level", "7", "--tone", "beige"]).await?;
    let map = ["section", "add", "Lena", "band left", "band right", "roots", "ends"];
    stage.step(one, "The map.", &map, 1).await?;
    stage
        .step(
            one,
            "The ends are left out: they are light enough.",
            &["section", "leave-out", "Lena", "ends"],
            1,
        )
        .await?;
    let note = [
        "formula",
        "note",
        "Lena",
        "lift the band",
        "lightener=1 part",
        "--ratio",
        "1:2",
        "--developer",
        "10 vol",
    ];
    stage.step(one, "A weak lightener for the band alone.", &note, 3).await?;
    stage.step(one, "45 g of it.", &["bowl", "mix", "Lena", "lift", "--total", "45g"], 4).await?;
    let paint = ["paint", "Lena", "band left", "band right", "--bowl", "bowl 1", "--time", "30 min"];
    stage.step(one, "Onto the band.", &paint, 2).await?;
    let look = ["check", "Lena", "band left", "--level", "6", "--warmth", "orange", "--feel", "firm"];
    stage.step(one, "A strand check.", &look, 1).await?;
    stage.step(one, "Mara has to go and offers Lena to Teo.", &["hand-over", "Lena", "Teo"], 1).await?;
    stage.together().await?;
    let take = ["take", "Lena"];
    stage
        .step(
            two,
            "Teo takes her, and reads on one screen what he must know. The timers are his now.",
            &take,
            WHOLE,
        )
        .await?;
    stage.step(two, "The band has lifted enough.", &["rinse", "Lena"], 2).await?;
    stage.step(two, "2 g were left.", &["bowl", "discard", "Lena", "bowl 1", "2g"], 1).await?;
    let note = [
        "formula",
        "note",
        "Lena",
        "even out",
        "beige 7=2 parts",
        "natural 6=1 part",
        "--ratio",
        "1:1.5",
        "--developer",
        "10 vol",
    ];
    stage.step(two, "What evens it out.", &note, 4).await?;
    stage.step(two, "60 g of it.", &["bowl", "mix", "Lena", "even out", "--total", "60g"], 4).await?;
    let paint = ["paint", "Lena", "band left", "band right", "roots", "--bowl", "bowl 2", "--time", "20 min"];
    stage.step(two, "Over band and roots.", &paint, 2).await?;
    let look = ["check", "Lena", "band right", "--level", "7", "--feel", "firm"];
    stage.step(two, "Another look.", &look, 1).await?;
    stage.step(two, "Rinsed.", &["rinse", "Lena"], 2).await?;
    stage.step(two, "The bowl is empty.", &["bowl", "used-up", "Lena", "bowl 2"], 1).await?;
    let mask = ["treatment", "Lena", "bond mask", "--time", "5 min"];
    stage.step(two, "A mask.", &mask, 2).await?;
    stage.step(two, "And off.", &["timer", "stop", "treatment"], 1).await?;
    let result = [
        "visit",
        "result",
        "Lena",
        "lengths",
        "--level",
        "7",
        "--tone",
        "beige",
        "--condition",
        "soft, firm",
    ];
    stage.step(two, "The result.", &result, 1).await?;
    let home = ["visit", "note", "Lena", "mild shampoo, no heat for three days", "--about", "home-care"];
    stage.step(two, "What to do at home.", &home, 1).await?;
    stage.step(two, "Lena's visit is closed.", &["visit", "close", "Lena"], 5).await?;
    let history = ["client", "history", "Lena"];
    stage.together().await?;
    stage.step(one, "Months later, this is what her card says, at any station.", &history, 24).await
}

/// The close of the day, with the proof.
pub(super) async fn close(stage: &mut Stage) -> Result<Proof, CliError> {
    stage
        .scene(
            "The day is closed",
            "Every station states what it holds; the day closes only if it is the same.",
            &[],
        )
        .await;
    stage.together().await?;
    stage.step(Seat::Desk, "What the day used, and what is left to do.", &["day", "summary"], WHOLE).await?;
    for seat in Seat::ALL {
        stage.step(seat, "This station states what it holds.", &["day", "state"], 1).await?;
        stage.together().await?;
    }
    stage.step(Seat::Desk, "Ines closes the day on the proof.", &["day", "close"], WHOLE).await?;
    let proof = stage.proof().await?;
    let rows: Vec<Vec<String>> = proof
        .stations
        .iter()
        .map(|s| {
            let digest = s.digest.get(..16).unwrap_or(&s.digest).to_owned();
            vec![
                s.station.to_owned(),
                digest,
                format!("{} documents", s.documents),
                format!("{} not sent", s.unsent),
            ]
        })
        .collect();
    stage.say(&format!("\nAll three stations hold the same record:\n{}", aligned(2, &rows)));
    Ok(proof)
}

/// What one can do while the salon stays up.
pub(super) async fn stay(stage: &mut Stage) -> Result<(), CliError> {
    let invited = stage.ask(Seat::Desk, &["invite"]).await?;
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
