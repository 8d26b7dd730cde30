//! How this station stands with the others: status, sync, the network switch, invitations, who is signed in.

use serde_json::json;
use tailcomb_core::station::Station;
use tailcomb_core::sync::Status;
use tailcomb_core::trade::Millis;
use tailcomb_core::wire::api::INVITATION_LIFE_MS;

use super::args::{OnOff, duration};
use super::context::Context;
use super::error::CliError;
use super::output::{Output, aligned, counted};
use super::{EXCHANGE, clock};

/// The status line.
fn in_words(ctx: &Context, status: &Status) -> Result<String, CliError> {
    let zone = ctx.salon()?.time_zone();
    Ok(status.in_words(|ms| clock::short(ms, &zone)))
}

/// `tailcomb status`
pub(super) fn status(ctx: &Context) -> Result<Output, CliError> {
    let salon = ctx.salon()?;
    let (device, relay, digest, status) = ctx.shared().with(|s| {
        let (digest, status) = (s.digest()?, s.status()?);
        Ok::<_, CliError>((s.device().to_string(), s.relay_url().to_owned(), digest, status))
    })?;
    let say = in_words(ctx, &status)?;
    let name = salon.station(&device).map_or(device.as_str(), |s| s.called()).to_owned();
    let signed_in = ctx.home().signed_in()?;
    let person = signed_in.as_ref().map(|id| salon.called(id).to_owned());
    let called = salon.name.latest().map_or("", |v| v.value.as_str()).to_owned();
    let process = ctx.is_live().then(std::process::id);
    let row = |what: &str, is: String| vec![what.to_owned(), is];
    let rows = [
        row("signed in", person.clone().unwrap_or_else(|| "nobody".to_owned())),
        row("relay", relay.clone()),
        row("record", format!("{}, digest {}", counted(digest.1, "document"), digest.0.short())),
        row("process", process.map_or("none running: tailcomb station run".to_owned(), |id| id.to_string())),
    ];
    let human = format!("{called} · {name}\n{say}\n{}", aligned(2, &rows));
    Ok(Output::new(
        human,
        json!({
            "salon": called,
            "station": name,
            "device": device,
            "person": signed_in.map(|id| json!({ "id": id, "name": person })),
            "relay": relay,
            "status": status,
            "say": say,
            "settled": ctx.is_settled(),
            "documents": digest.1,
            "digest": digest.0.to_string(),
            "process": process,
        }),
    ))
}

/// `tailcomb sync`
pub(super) async fn sync(within: Millis, ctx: &Context) -> Result<Output, CliError> {
    let before = ctx.shared().with(|s| s.erased_here())?;
    let status = ctx.sync(duration(within)).await?;
    let mut erased = ctx.shared().with(|s| s.erased_here())?;
    erased.retain(|e| before.iter().all(|b| b.doc != e.doc));
    let mut say = in_words(ctx, &status)?;
    if !erased.is_empty() {
        let unsent = erased.iter().fold(0_u64, |sum, e| sum.saturating_add(e.unsent));
        say.push_str(&format!(
            "\na client was erased elsewhere: {} documents are gone here too, and {unsent} changes made here that were \
             not sent (tailcomb client erasures)",
            erased.len()
        ));
    }
    if !ctx.is_settled() {
        let hint = match (&status.refused, status.paused) {
            (Some(_), _) => "the relay says why; everything stays here until it is put right",
            (None, true) => "tailcomb network on",
            (None, false) => {
                "nothing is lost: it goes out once the relay answers; check the network and the relay, and if that has \
                 another address now: tailcomb stations relay URL"
            }
        };
        return Err(CliError::new("not-settled", say).hint(hint));
    }
    Ok(Output::new(say.clone(), json!({ "status": status, "say": say, "settled": true, "erased": erased })))
}

/// `tailcomb network on|off`
pub(super) fn network(state: OnOff, ctx: &Context) -> Result<Output, CliError> {
    if !ctx.is_live() {
        return Err(CliError::new("not-running", "no station process runs here, so there is nothing to switch")
            .hint("tailcomb station run keeps one running; a single command leaves the network alone with --offline"));
    }
    match state {
        OnOff::Off => ctx.shared().pause()?,
        OnOff::On => ctx.shared().resume(),
    }
    let status = ctx.shared().with(|s| s.status())?;
    let human = match state {
        OnOff::Off => "off the network: work goes on, and goes out later",
        OnOff::On => "on the network again",
    };
    Ok(Output::new(human, json!({ "network": state == OnOff::On, "status": status })))
}

/// `tailcomb invite`
pub(super) async fn invite(ctx: &Context) -> Result<Output, CliError> {
    ctx.require_network()?;
    // The relay must have heard of the salon before it can keep an invitation to it.
    ctx.sync(EXCHANGE).await?;
    let link = ctx.shared().invite().await?;
    // Counted here, so a little early rather than late.
    let until_ms = ctx.now().ms.saturating_add_unsigned(INVITATION_LIFE_MS);
    let until = clock::short(until_ms, &ctx.salon()?.time_zone());
    let human = format!(
        "Give this link to the new device alone. It works once, until {until}:\n\n  {link}\n\nthere: tailcomb join LINK --station NAME"
    );
    Ok(Output::new(human, json!({ "link": link, "until_ms": until_ms, "until": until })))
}

/// `tailcomb sign-in`
pub(super) fn sign_in(person: &str, ctx: &Context) -> Result<Output, CliError> {
    let id = ctx.shared().with(|s| s.sign_in_as(person))?;
    ctx.home().remember(Some(&id))?;
    let name = ctx.salon()?.called(&id).to_owned();
    Ok(Output::new(format!("{name} is signed in"), json!({ "person": { "id": id, "name": name } })))
}

/// `tailcomb sign-out`
pub(super) fn sign_out(ctx: &Context) -> Result<Output, CliError> {
    ctx.home().remember(None)?;
    ctx.shared().with(Station::sign_out);
    Ok(Output::new("nobody is signed in", json!({ "person": null })))
}
