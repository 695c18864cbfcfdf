//! The server of the page, on the loopback interface.

mod door;
mod guard;
mod routes;
mod server;
mod stream;

use std::net::{Ipv4Addr, TcpListener};
use std::sync::Arc;

use tokio::sync::{Notify, Semaphore};

use super::{Desk, Options};
use crate::store::Disk;
use door::Door;
pub use door::Doorstep;

/// Ends the server from elsewhere.
#[derive(Clone, Debug, Default)]
pub struct Closer(Arc<Notify>);

impl Closer {
    /// Ends it.
    pub fn close(&self) {
        self.0.notify_one();
    }
}

/// What all requests share.
struct Shared {
    /// What is explored, and what its pages do.
    desk: Desk,
    /// The port that it listens on.
    port: u16,
    /// Who may come in.
    door: Door,
    /// Moves of a slider that are solved side by side.
    moves: Semaphore,
    /// Everything else that may run side by side: a move never waits for it.
    work: Semaphore,
    /// Requests that may wait for one.
    queue: Arc<Semaphore>,
}

#[cfg(test)]
impl Shared {
    fn for_tests() -> Shared {
        Shared {
            desk: Desk::new(Options::of("".into(), std::time::Duration::from_secs(1)), Arc::new(Disk)),
            port: 1,
            door: Door::new(1).expect("randomness"),
            moves: Semaphore::new(1),
            work: Semaphore::new(1),
            queue: Arc::new(Semaphore::new(1)),
        }
    }
}

/// Why the server did not start, or ended.
#[derive(Debug, thiserror::Error)]
pub enum ServerError {
    /// The port is taken, or may not be used.
    #[error("port {port} of this machine cannot be used: {error}")]
    Port {
        /// The port that was asked for.
        port: u16,
        /// What the system says.
        error: std::io::Error,
    },
    /// The system gives no threads, or no randomness.
    #[error("the page cannot be served: {0}")]
    System(String),
}

/// Searches that may run side by side: each uses all cores by itself.
const SIDE_BY_SIDE: usize = 2;
/// Requests that may wait for a place to work; beyond them they are turned away.
const QUEUE: usize = 200;

/// A server that is bound, and not yet answering.
pub struct Explorer {
    listener: TcpListener,
    shared: Arc<Shared>,
}

impl Explorer {
    /// Binds a port of the loopback interface; 0 takes any that is free.
    ///
    /// # Errors
    /// [`ServerError`].
    pub fn bind(port: u16, options: Options) -> Result<Explorer, ServerError> {
        let bound = TcpListener::bind((Ipv4Addr::LOCALHOST, port)).and_then(|it| Ok((it.local_addr()?.port(), it)));
        let (port, listener) = bound.map_err(|error| ServerError::Port { port, error })?;
        let door = Door::new(port).map_err(|error| ServerError::System(error.to_string()))?;
        let [moves, work] = [(); 2].map(|()| Semaphore::new(SIDE_BY_SIDE));
        let queue = Arc::new(Semaphore::new(QUEUE));
        let desk = Desk::new(options, Arc::new(Disk));
        let shared = Arc::new(Shared { desk, port, door, moves, work, queue });
        Ok(Explorer { listener, shared })
    }

    /// Where the page is, with the key that opens it: to be shown to the user
    /// alone.
    pub fn address(&self) -> String {
        format!("http://127.0.0.1:{}{}", self.shared.port, self.shared.door.entrance())
    }

    /// Answers until it is closed.
    ///
    /// # Errors
    /// [`ServerError`].
    pub fn serve(self, closer: &Closer) -> Result<(), ServerError> {
        server::run(self.listener, &self.shared, closer)
    }
}
