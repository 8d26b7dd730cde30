//! Executes a command on a station that is open, the same in a station process and in a process of its own.

use super::args::AtStation;
use super::board::Board;
use super::context::Context;
use super::error::CliError;
use super::output::Output;
use super::{board, exchange, house, job};

/// Does it, and answers.
pub(super) async fn execute(command: AtStation, ctx: &Context) -> Result<Output, CliError> {
    if command.acts() {
        ctx.require_somebody()?;
    }
    match command {
        AtStation::House(command) => house::house(command, ctx),
        AtStation::Invite => exchange::invite(ctx).await,
        AtStation::Stations { what } => house::stations(what, ctx).await,
        AtStation::People { what } => house::people(what, ctx),
        AtStation::SignIn { person } => exchange::sign_in(&person, ctx),
        AtStation::SignOut => exchange::sign_out(ctx),
        AtStation::Sync { within } => exchange::sync(within, ctx).await,
        AtStation::Status => exchange::status(ctx),
        AtStation::Floor(args) => {
            let person = ctx.home().signed_in()?;
            let board = ctx.shared().with(|s| Board::read(s, person.as_ref()))?;
            let width = args.width.unwrap_or(board::PLAIN_WIDTH);
            let value = serde_json::to_value(&board)
                .map_err(|e| CliError::new("internal", format!("the board cannot be written: {e}")))?;
            Ok(Output::new(board.paint(usize::from(width), false).join("\n"), value))
        }
        AtStation::Network { state } => exchange::network(state, ctx),
        AtStation::Job(command) => job::run(command, ctx).await,
    }
}
