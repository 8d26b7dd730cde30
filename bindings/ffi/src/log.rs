//! What Tailcomb notes for its developers, to the host's own log. Nothing of a client is in it.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use tracing::dispatcher::{self, Dispatch};
use tracing::field::{Field, Visit};
use tracing::level_filters::LevelFilter;
use tracing::span::{Attributes, Id, Record};
use tracing::{Event, Level, Metadata, Subscriber};

/// How grave something is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, uniffi::Enum)]
pub enum LogLevel {
    /// Of interest when looking for a mistake.
    Debug,
    /// What happens in the ordinary course.
    Info,
    /// Something that should not be and was got over.
    Warn,
    /// Something that was not got over.
    Error,
}

/// The host's log.
#[uniffi::export(foreign)]
pub trait Logger: Send + Sync {
    /// Notes a line.
    fn log(&self, level: LogLevel, target: String, line: String);
}

/// Notes to this log what is at least so grave, from now to the end of the process. False when there is one already,
/// which is kept.
#[uniffi::export]
pub fn log_to(logger: Arc<dyn Logger>, least: LogLevel) -> bool {
    let least = match least {
        LogLevel::Debug => LevelFilter::DEBUG,
        LogLevel::Info => LevelFilter::INFO,
        LogLevel::Warn => LevelFilter::WARN,
        LogLevel::Error => LevelFilter::ERROR,
    };
    dispatcher::set_global_default(Dispatch::new(ToHost { logger, least })).is_ok()
}

/// Hands single events on; spans are nothing to the host.
struct ToHost {
    logger: Arc<dyn Logger>,
    least: LevelFilter,
}

impl Subscriber for ToHost {
    fn enabled(&self, metadata: &Metadata<'_>) -> bool {
        metadata.target().starts_with("tailcomb") && *metadata.level() <= self.least
    }

    fn max_level_hint(&self) -> Option<LevelFilter> {
        Some(self.least)
    }

    fn event(&self, event: &Event<'_>) {
        let level = match *event.metadata().level() {
            Level::ERROR => LogLevel::Error,
            Level::WARN => LogLevel::Warn,
            Level::INFO => LogLevel::Info,
            _ => LogLevel::Debug,
        };
        let mut line = Line(String::new());
        event.record(&mut line);
        let target = event.metadata().target().to_owned();
        // Whatever noted this must not suffer from a log that fails, and there is nowhere to note that.
        drop(catch_unwind(AssertUnwindSafe(|| self.logger.log(level, target, line.0))));
    }

    fn new_span(&self, _: &Attributes<'_>) -> Id {
        Id::from_u64(1)
    }

    fn record(&self, _: &Id, _: &Record<'_>) {}

    fn record_follows_from(&self, _: &Id, _: &Id) {}

    fn enter(&self, _: &Id) {}

    fn exit(&self, _: &Id) {}
}

/// The message, and after it what stands beside it.
struct Line(String);

impl Visit for Line {
    fn record_debug(&mut self, field: &Field, value: &dyn std::fmt::Debug) {
        match field.name() {
            "message" => self.0.push_str(&format!("{value:?}")),
            name => self.0.push_str(&format!(" {name}={value:?}")),
        }
    }
}
