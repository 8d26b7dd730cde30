//! The salon, its rules, its people and its stations.

use serde_json::{Value, json};
use tailcomb_core::record::salon::{AlertTestPeriod, Person, Policy, Role, RosterStation, SalonView};
use tailcomb_core::station::{RelayFound, short};
use tailcomb_core::trade::limits::{Citation, Limit, Place};
use tailcomb_core::trade::{Grams, LengthUnit, WeightUnit};
use tailcomb_core::wire::ids::DeviceId;
use tailcomb_core::wire::recovery::RecoverySecret;

use super::EXCHANGE;
use super::args::{House, PeopleCommand, Rule, StationsCommand, YesNo};
use super::context::Context;
use super::error::CliError;
use super::output::{Output, aligned};
use super::setup::check_url;

/// `tailcomb salon …` on a station.
pub(super) fn house(command: House, ctx: &Context) -> Result<Output, CliError> {
    match command {
        House::Show => {}
        House::Limits => return limits(ctx),
        House::Name { name } => ctx.with(|s| s.rename_salon(&name))?,
        House::Zone { zone } => ctx.with(|s| s.set_zone(&zone))?,
        House::Rule(rule) => {
            let policy = policy(rule)?;
            ctx.with(|s| s.set_policy(policy))?;
        }
    }
    let salon = ctx.salon()?;
    Ok(Output::new(describe(&salon), json!({ "salon": salon })))
}

fn policy(rule: Rule) -> Result<Policy, CliError> {
    Ok(match rule {
        Rule::AlertTest { period } if period == "every-time" => Policy::AlertTest(AlertTestPeriod::EveryTime),
        Rule::AlertTest { period } => {
            let days = period.trim_end_matches(|c: char| c.is_ascii_alphabetic() || c == ' ').parse();
            let days = days.map_err(|_| {
                CliError::usage(format!("“{period}” is no period for alert tests"))
                    .hint("say every-time, or for how many days a reading counts, e.g. 180")
            })?;
            Policy::AlertTest(AlertTestPeriod::WithinDays { days })
        }
        Rule::Countersign { wanted } => Policy::AssociatesNeedCountersign(wanted == YesNo::Yes),
        Rule::BowlLife { time } => Policy::BowlMs(time),
        Rule::LightenerTest { wanted } => Policy::LightenerNeedsTest(wanted == YesNo::Yes),
        Rule::LeastAge { years } => Policy::MinimumAge(years),
        Rule::CheckEvery { time } => Policy::CheckEveryMs(time),
        Rule::Weights { unit } => Policy::Weights(unit),
        Rule::Lengths { unit } => Policy::Lengths(unit),
        Rule::Place { place } => Policy::Place(place),
        Rule::MostPeroxide { percent } => Policy::MostPeroxide(percent),
        Rule::SectionTime { time } => Policy::SectionMs(time),
        Rule::SectionWeight { weight } => Policy::SectionMg(weight),
        Rule::BiggestBowl { weight } => Policy::BiggestBowlMg(weight),
        Rule::Clinging { weight } => Policy::ClingingMg(weight),
        Rule::Rinse { time } => Policy::RinseMs(time),
        Rule::Finishing { time } => Policy::FinishingMs(time),
    })
}

fn describe(salon: &SalonView) -> String {
    let rules = &salon.policies;
    let row = |what: &str, is: String| vec![what.to_owned(), is];
    let alert = match rules.alert_test() {
        AlertTestPeriod::EveryTime => "before every colouring".to_owned(),
        AlertTestPeriod::WithinDays { days } => format!("a reading counts for {days} days"),
    };
    let countersign = if rules.associates_need_countersign() { "needed" } else { "not asked for" };
    let weights = match rules.weights() {
        WeightUnit::Grams => "grams",
        WeightUnit::Ounces => "ounces",
    };
    let lengths = match rules.lengths() {
        LengthUnit::Centimetres => "centimetres",
        LengthUnit::Inches => "inches",
    };
    let weight = |weight: Grams| weight.shown_in(rules.weights());
    let pace = rules.pace();
    let places: Vec<String> = salon.places().iter().map(Place::to_string).collect();
    let guessed = if rules.place.versions.is_empty() { " (guessed by the time zone)" } else { "" };
    let ceiling = rules.most_peroxide.versions.iter().map(|v| v.value).min();
    let rows = [
        row("time zone", salon.zone.latest().map_or("UTC", |v| &v.value).to_owned()),
        row("people", salon.people.iter().filter(|p| p.is_active()).count().to_string()),
        row("stations", salon.stations.iter().filter(|s| s.belongs()).count().to_string()),
        row("alert test", alert),
        row(
            "alert test before lightener",
            if rules.lightener_needs_test() { "asked for" } else { "not asked for" }.to_owned(),
        ),
        row(
            "hair is coloured from",
            salon.minimum_age().map_or("no age is set".to_owned(), |least| {
                format!("{} years on ({})", least.years, least.citation.rule)
            }),
        ),
        row("rules of the place", format!("{}{guessed}", places.join(" and "))),
        row(
            "most peroxide on hair",
            ceiling.map_or("as the place allows".to_owned(), |most| most.to_string()),
        ),
        row("countersign for associates", countersign.to_owned()),
        row("a mixed bowl is used for", rules.bowl().to_string()),
        row("strand check every", rules.check_every().to_string()),
        row("a section takes", format!("{}, {}", pace.time_per_section, weight(pace.grams_per_section))),
        row(
            "a bowl holds at most",
            format!("{}, of which {} clings", weight(rules.biggest_bowl()), weight(rules.clinging())),
        ),
        row("allowed for rinse and finishing", format!("{}, {}", rules.rinse(), rules.finishing())),
        row("weights are shown in", weights.to_owned()),
        row("lengths are shown in", lengths.to_owned()),
    ];
    let name = salon.name.latest().map_or("A salon without a name", |v| v.value.as_str());
    format!(
        "{name}\n{}\nThe maker's label and local codes come before the rules of the house.",
        aligned(2, &rows)
    )
}

fn limits(ctx: &Context) -> Result<Output, CliError> {
    let rules = ctx.salon()?.rules();
    let mut text = Vec::new();
    for set in &rules {
        text.push(set.place.to_string());
        if set.limits.is_empty() {
            text.push("  no limit is known here: follow the maker's label and local codes".to_owned());
        }
        text.extend(set.limits.iter().map(|Limit { what, used_on, max, conditions, citation, .. }| {
            let conditions = if conditions.is_empty() { String::new() } else { format!(", {conditions}") };
            format!("  {what} on {used_on}: at most {max}{conditions}\n      {}", cited(citation))
        }));
        text.extend(set.cautions.iter().map(|c| format!("  ! {}\n      {}", c.text, cited(&c.citation))));
    }
    text.push("Figures are for the mix ready for use. The maker's label and local codes prevail.".to_owned());
    let human: Vec<String> = text.into_iter().filter(|t| !t.is_empty()).collect();
    Ok(Output::new(human.join("\n"), json!({ "rules": rules })))
}

fn cited(Citation { rule, date, status }: &Citation) -> String {
    format!("{rule}, {date} ({status})")
}

fn role_name(role: Role) -> &'static str {
    match role {
        Role::Associate => "associate",
        Role::Stylist => "stylist",
        Role::Trainer => "trainer",
    }
}

fn person_json(person: &Person) -> Value {
    json!({
        "id": person.id,
        "name": person.called(),
        "role": role_name(person.acts_as()),
        "active": person.is_active(),
    })
}

/// `tailcomb people …`
pub(super) fn people(what: Option<PeopleCommand>, ctx: &Context) -> Result<Output, CliError> {
    let id = match what {
        None => return list_people(ctx),
        Some(PeopleCommand::Add { name, role }) => ctx.with(|s| s.add_person(&name, role))?,
        Some(PeopleCommand::Rename { person, to }) => ctx.with(|s| {
            let id = s.find_person(&person)?;
            s.rename_person(&id, &to).map(|()| id)
        })?,
        Some(PeopleCommand::Role { person, role }) => ctx.with(|s| {
            let id = s.find_person(&person)?;
            s.set_role(&id, role).map(|()| id)
        })?,
        Some(PeopleCommand::Left { person }) => ctx.with(|s| {
            let id = s.find_person(&person)?;
            s.set_active(&id, false).map(|()| id)
        })?,
        Some(PeopleCommand::Back { person }) => ctx.with(|s| {
            let id = s.find_person(&person)?;
            s.set_active(&id, true).map(|()| id)
        })?,
    };
    let salon = ctx.salon()?;
    let Some(person) = salon.person(&id) else {
        return Ok(Output::new(id.as_str(), json!({ "person": { "id": id } })));
    };
    let left = if person.is_active() { "" } else { ", left" };
    let human = format!("{} ({}{left})", person.called(), role_name(person.acts_as()));
    Ok(Output::new(human, json!({ "person": person_json(person) })))
}

fn list_people(ctx: &Context) -> Result<Output, CliError> {
    let salon = ctx.salon()?;
    let mut people: Vec<&Person> = salon.people.iter().collect();
    people.sort_by_key(|p| (!p.is_active(), p.called().to_lowercase()));
    let row = |p: &&Person| {
        let left = if p.is_active() { "" } else { "left" };
        vec![p.called().to_owned(), role_name(p.acts_as()).to_owned(), left.to_owned()]
    };
    let rows: Vec<Vec<String>> = people.iter().map(row).collect();
    let value: Vec<Value> = people.iter().map(|p| person_json(p)).collect();
    let human = if rows.is_empty() { "nobody is known here yet".to_owned() } else { aligned(0, &rows) };
    Ok(Output::new(human, json!({ "people": value })))
}

/// `tailcomb stations …`
pub(super) async fn stations(what: Option<StationsCommand>, ctx: &Context) -> Result<Output, CliError> {
    match what {
        None => {}
        Some(StationsCommand::Rename { station, to }) => {
            let device = find_station(&ctx.salon()?, &station)?.device.clone();
            ctx.with(|s| s.rename_station(Some(&device), &to))?;
        }
        Some(StationsCommand::FoundAnew) => {
            ctx.require_network()?;
            let words = RecoverySecret::from_words(ctx.input());
            let words = words.map_err(|e| CliError::new("words", e.to_string()))?;
            ctx.with(|s| s.found_anew(&words))?;
            ctx.sync(EXCHANGE).await?;
        }
        Some(StationsCommand::Relay { url, anew }) => {
            ctx.require_network()?;
            let url = check_url(&url)?;
            let found = ctx.shared().move_relay(&url, anew).await?;
            let status = ctx.sync(EXCHANGE).await?;
            let say = match found {
                RelayFound::Same => "it has this salon as this station knows it",
                RelayFound::OtherLog => {
                    "it has this salon, with another log: what either side lacks is made good now"
                }
                RelayFound::Unknown if ctx.shared().with(|s| s.relay_knows()) => {
                    "it had not heard of this salon, and has it now: let the other stations in again by invitation"
                }
                RelayFound::Unknown => {
                    "it has not heard of this salon: found it there with tailcomb stations found-anew"
                }
            };
            return Ok(Output::new(
                format!("the relay is at {url} from now on: {say}"),
                json!({ "relay": url, "found": found, "status": status }),
            ));
        }
        Some(StationsCommand::Revoke { station, why }) => {
            ctx.require_network()?;
            // It may have joined a moment ago, at another station.
            ctx.sync(EXCHANGE).await?;
            let salon = ctx.salon()?;
            let found = find_station(&salon, &station)?;
            if !found.belongs() {
                return Err(CliError::input(format!("{} is shut out already", found.called())));
            }
            let device = DeviceId::parse(&found.device).ok_or_else(|| {
                CliError::new("store", format!("the roster's entry for {} cannot be read", found.called()))
            })?;
            if device == ctx.shared().with(|s| s.device()) {
                return Err(
                    CliError::input("a station cannot shut itself out").hint("do it at another station")
                );
            }
            ctx.shared().revoke(device, &why).await?;
            // The others wait for their new key.
            ctx.sync(EXCHANGE).await?;
        }
    }
    let salon = ctx.salon()?;
    let own = ctx.shared().with(|s| s.device().to_string());
    Ok(list_stations(&salon, &own))
}

fn list_stations(salon: &SalonView, own: &str) -> Output {
    let mut stations: Vec<&RosterStation> = salon.stations.iter().collect();
    stations.sort_by_key(|s| (!s.belongs(), s.joined.map(|at| at.ms)));
    let state = |s: &RosterStation| match (s.belongs(), s.device == own) {
        (true, true) => "this one".to_owned(),
        (true, false) => String::new(),
        (false, _) => match s.revoked.first() {
            Some(removal) => format!("shut out by {}: {}", salon.called(&removal.by), removal.why),
            None => "not joined yet".to_owned(),
        },
    };
    let rows: Vec<Vec<String>> =
        stations.iter().map(|s| vec![s.called().to_owned(), short(&s.device).to_owned(), state(s)]).collect();
    let value: Vec<Value> = stations
        .iter()
        .map(|s| {
            json!({
                "device": s.device,
                "name": s.called(),
                "belongs": s.belongs(),
                "this_one": s.device == own,
                "revoked": s.revoked,
            })
        })
        .collect();
    Output::new(aligned(0, &rows), json!({ "stations": value }))
}

/// A station by its name, the beginning of it, or the beginning of its device id.
fn find_station<'s>(salon: &'s SalonView, words: &str) -> Result<&'s RosterStation, CliError> {
    let sought = words.trim().to_lowercase();
    let called = |s: &RosterStation| s.called().to_lowercase();
    let whole: Vec<&RosterStation> =
        salon.stations.iter().filter(|s| s.device == sought || called(s) == sought).collect();
    let begins = |s: &&RosterStation| called(s).starts_with(&sought) || s.device.starts_with(&sought);
    let fitting = match whole.is_empty() && !sought.is_empty() {
        true => salon.stations.iter().filter(begins).collect(),
        false => whole,
    };
    match fitting.as_slice() {
        [one] => Ok(one),
        [] => Err(CliError::new("not-found", format!("there is no station called “{}” here", words.trim()))
            .hint("tailcomb stations lists them")),
        several => {
            let short: Vec<&str> = several.iter().map(|s| short(&s.device)).collect();
            Err(CliError::new(
                "ambiguous",
                format!("“{}” fits {} stations: {}", words.trim(), several.len(), short.join(", ")),
            )
            .hint("say the short device id instead of the name"))
        }
    }
}
