//! What Tailcomb notes for its developers, to the host's own log. Nothing of a client is in it.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use tracing::field::{Field, Visit};
use tracing::{Event, Level, Subscriber};
use tracing_subscriber::filter::LevelFilter;
use tracing_subscriber::layer::{Context, Layer, SubscriberExt as _};
use tracing_subscriber::util::SubscriberInitExt as _;

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
    let ours = tracing_subscriber::filter::Targets::new().with_target("tailcomb", least);
    tracing_subscriber::registry().with(ToHost(logger).with_filter(ours)).try_init().is_ok()
}

struct ToHost(Arc<dyn Logger>);

impl<S: Subscriber> Layer<S> for ToHost {
    fn on_event(&self, event: &Event<'_>, _: Context<'_, S>) {
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
        drop(catch_unwind(AssertUnwindSafe(|| self.0.log(level, target, line.0))));
    }
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
