//! A connection that gives up when what it writes is not taken for too long, so that a client that asks and never
//! reads cannot hold answers in memory. (Reading has its own limits, see `Limits`.)

use std::future::Future;
use std::io;
use std::pin::Pin;
use std::task::{Context, Poll, ready};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::time::{Instant, Sleep};

/// A stream with a limit on how long a write may make no progress.
pub(crate) struct Stalling<T> {
    stream: T,
    limit: Duration,
    /// Runs while a write is stuck. Most connections never need one.
    stuck: Option<Pin<Box<Sleep>>>,
}

impl<T> Stalling<T> {
    pub(crate) fn new(stream: T, limit: Duration) -> Self {
        Self { stream, limit, stuck: None }
    }

    fn watch<R>(&mut self, progress: Poll<io::Result<R>>, cx: &mut Context<'_>) -> Poll<io::Result<R>> {
        if progress.is_ready() {
            self.stuck = None;
            return progress;
        }
        let limit = self.limit;
        let stuck =
            self.stuck.get_or_insert_with(|| Box::pin(tokio::time::sleep_until(Instant::now() + limit)));
        ready!(stuck.as_mut().poll(cx));
        Poll::Ready(Err(io::ErrorKind::TimedOut.into()))
    }
}

impl<T: AsyncRead + Unpin> AsyncRead for Stalling<T> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(cx, buf)
    }
}

impl<T: AsyncWrite + Unpin> AsyncWrite for Stalling<T> {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, buf: &[u8]) -> Poll<io::Result<usize>> {
        let progress = Pin::new(&mut self.stream).poll_write(cx, buf);
        self.watch(progress, cx)
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let progress = Pin::new(&mut self.stream).poll_flush(cx);
        self.watch(progress, cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let progress = Pin::new(&mut self.stream).poll_shutdown(cx);
        self.watch(progress, cx)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bufs: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let progress = Pin::new(&mut self.stream).poll_write_vectored(cx, bufs);
        self.watch(progress, cx)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }
}

#[cfg(test)]
mod tests {
    use tokio::io::{AsyncReadExt, AsyncWriteExt, duplex};

    use super::*;

    const LIMIT: Duration = Duration::from_secs(5);

    #[tokio::test(start_paused = true)]
    async fn a_reader_that_never_reads_is_given_up() {
        let (near, _far) = duplex(16);
        let mut near = Stalling::new(near, LIMIT);
        let failed = near.write_all(&[0; 64]).await.unwrap_err();
        assert_eq!(failed.kind(), io::ErrorKind::TimedOut);
    }

    #[tokio::test(start_paused = true)]
    async fn a_slow_reader_that_goes_on_reading_is_served_to_the_end() {
        let (near, mut far) = duplex(16);
        let mut near = Stalling::new(near, LIMIT);
        let reader = tokio::spawn(async move {
            let mut got = 0;
            let mut chunk = [0; 16];
            while got < 64 {
                tokio::time::sleep(LIMIT - Duration::from_secs(1)).await;
                got += far.read(&mut chunk).await.unwrap();
            }
            got
        });
        near.write_all(&[0; 64]).await.unwrap();
        assert_eq!(reader.await.unwrap(), 64);
    }
}
