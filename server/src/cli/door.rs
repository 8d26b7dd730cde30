//! What goes over a station's socket: one line of JSON with the command, one line with its answer; for a board that is
//! watched, one line a frame. Whoever can open the socket is the user whose station it is.

use std::io;

use serde::{Deserialize, Serialize};
use tokio::io::{AsyncBufRead, AsyncBufReadExt, AsyncReadExt, AsyncWrite, AsyncWriteExt, BufReader};
use tokio::net::UnixStream;
use tokio::net::unix::{OwnedReadHalf, OwnedWriteHalf};

use super::board::Board;
use super::error::CliError;
use super::home::Home;
use super::output::Saved;

/// Longest command with its input.
pub(super) const MAX_REQUEST: usize = 1 << 20;
/// Longest answer.
const MAX_SAID: usize = 32 << 20;

/// A command.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Request {
    /// The command line, without the name of the program.
    pub(super) argv: Vec<String>,
    /// Standard input, for a command that wants it.
    #[serde(default)]
    pub(super) input: String,
    /// The directory in which it was typed, for files that it names.
    #[serde(default)]
    pub(super) typed_in: String,
}

/// What a station process says back.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Said {
    /// The command is done.
    Done {
        /// For standard output.
        out: String,
        /// For standard error.
        err: String,
        /// For the exit.
        code: u8,
        /// A file that the caller writes.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        file: Option<Saved>,
    },
    /// A frame of a board that is watched; more follow.
    Frame(Box<Board>),
}

impl Said {
    /// An error as the caller would have printed it itself.
    pub(super) fn error(error: &CliError, json: bool) -> Self {
        let (out, err) = if json { (error.json(), String::new()) } else { (String::new(), error.human()) };
        Self::Done { out, err, code: error.exit, file: None }
    }
}

/// Reads one line of JSON of at most `most` bytes; `None` at the end.
pub(super) async fn read_line<T: serde::de::DeserializeOwned>(
    from: &mut (impl AsyncBufRead + Unpin),
    most: usize,
) -> io::Result<Option<T>> {
    let mut line = Vec::new();
    let limit = u64::try_from(most).unwrap_or(u64::MAX);
    let read = from.take(limit.saturating_add(1)).read_until(b'\n', &mut line).await?;
    if read == 0 {
        return Ok(None);
    }
    if line.last() != Some(&b'\n') {
        let why = if line.len() > most { "the line is too long" } else { "the line broke off" };
        return Err(io::Error::new(io::ErrorKind::InvalidData, why));
    }
    let read = serde_json::from_slice(&line);
    read.map(Some).map_err(|e| io::Error::new(io::ErrorKind::InvalidData, e))
}

/// Writes one line of JSON.
pub(super) async fn write_line(to: &mut (impl AsyncWrite + Unpin), what: &impl Serialize) -> io::Result<()> {
    let mut line = serde_json::to_vec(what)?;
    line.push(b'\n');
    to.write_all(&line).await?;
    to.flush().await
}

/// A command under way in a station process.
#[derive(Debug)]
pub(super) struct Call {
    from: BufReader<OwnedReadHalf>,
    /// Held open: a closed writing half tells the station process that nobody watches any more.
    _to: OwnedWriteHalf,
}

impl Call {
    /// Hands a command to the station process of `home`; `None` when none is running.
    pub(super) async fn make(home: &Home, request: &Request) -> Result<Option<Self>, CliError> {
        let Some(stream) = connect(home).await? else { return Ok(None) };
        let (from, mut to) = stream.into_split();
        match write_line(&mut to, request).await {
            Ok(()) => Ok(Some(Self { from: BufReader::new(from), _to: to })),
            // It ended between our knock and our word, so it has done nothing.
            Err(e) if e.kind() == io::ErrorKind::BrokenPipe => Ok(None),
            Err(e) => {
                Err(CliError::new("station-process", format!("the station process cannot be reached: {e}")))
            }
        }
    }

    /// The next thing it says.
    pub(super) async fn next(&mut self) -> Result<Said, CliError> {
        match read_line(&mut self.from, MAX_SAID).await {
            Ok(Some(said)) => Ok(said),
            Ok(None) => Err(CliError::new(
                "station-process-ended",
                "the station process ended before it answered: the command may have been done or not",
            )
            .hint("look whether it was done before you do it again")),
            Err(e) => Err(CliError::new(
                "station-process",
                format!("the station process cannot be understood: {e}"),
            )
            .hint("is it of the same version? stop it and start it again")),
        }
    }
}

/// A connection to the station process of `home`; `None` when none is running.
pub(super) async fn connect(home: &Home) -> Result<Option<UnixStream>, CliError> {
    match UnixStream::connect(home.socket()).await {
        Ok(stream) => Ok(Some(stream)),
        Err(e) => match e.kind() {
            // No socket, a socket that a killed process left, or a path longer than sockets can have: no process
            // answers, and the lock decides.
            io::ErrorKind::NotFound | io::ErrorKind::ConnectionRefused | io::ErrorKind::InvalidInput => {
                Ok(None)
            }
            _ => Err(CliError::new("station-process", format!("{}: {e}", home.socket().display()))
                .hint("check that the station's directory is yours")),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    async fn read(bytes: &[u8]) -> io::Result<Option<Request>> {
        read_line(&mut BufReader::new(bytes), 64).await
    }

    #[tokio::test]
    async fn what_is_no_command_is_refused_and_never_read_without_end() {
        let request = read(b"{\"argv\":[\"status\"]}\nmore").await.unwrap().unwrap();
        assert_eq!(
            request,
            Request { argv: vec!["status".to_owned()], input: String::new(), typed_in: String::new() }
        );
        assert!(read(b"").await.unwrap().is_none());
        let long = [b"{\"argv\":[\"".as_slice(), &[b'a'; 1000], b"\"]}\n"].concat();
        for bad in [
            b"{\"argv\":[\"status\"]}".as_slice(),
            b"\n",
            b"{}\n",
            b"[1]\n",
            b"\xff\xfe\x00\n",
            b"{\"argv\":[\"a\"],\"run\":true}\n",
            &long,
        ] {
            let error = read(bad).await.unwrap_err();
            assert_eq!(error.kind(), io::ErrorKind::InvalidData, "{bad:?}");
        }
    }
}
