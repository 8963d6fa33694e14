//! The only place of the program that listens, and only to this machine: the loopback address, nothing else.

use crate::api::Api;
use crate::desk::Desk;
use crate::engine::Engine;
use crate::folder::Folder;
use crate::guard::{Entry, Keeper};
use crate::http::{BadRequest, Keep, Request, Response, event_head, read_request};
use crate::page;
use std::io::{self, Write};
use std::net::{Ipv4Addr, Shutdown, TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

/// How long a request may take to arrive, and an answer to be taken.
const PATIENCE: Duration = Duration::from_secs(20);
/// Connections at one time. A window holds one for events and a few for requests.
const MAX_CONNECTIONS: usize = 64;
/// How often files are compared with what was read.
const LOOK: Duration = Duration::from_millis(300);
/// How long a stream of events may be silent.
const BEAT: Duration = Duration::from_secs(10);

/// What a server is made of.
pub struct Parts {
    /// The project.
    pub folder: Arc<dyn Folder>,
    /// Threads.
    pub pool: Arc<rayon::ThreadPool>,
    /// Version of the program, with its commit.
    pub version: String,
    /// Secret of this session: only who knows it is answered. At least 32 characters, letters and digits.
    pub token: String,
    /// Port; 0 lets the system choose.
    pub port: u16,
}

/// A server that listens and does not answer yet.
pub struct Server {
    listener: TcpListener,
    shared: Arc<Shared>,
}

struct Shared {
    api: Api,
    keeper: Keeper,
    connections: AtomicUsize,
    closing: AtomicBool,
}

impl Server {
    /// Takes the port and begins to compute.
    ///
    /// # Errors
    /// The port is taken, or the system gives no thread.
    pub fn bind(parts: Parts) -> io::Result<Self> {
        let plain = parts.token.len() >= 32 && parts.token.bytes().all(|b| b.is_ascii_alphanumeric());
        if !plain {
            return Err(io::Error::other("the token is too short"));
        }
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, parts.port))?;
        let port = listener.local_addr()?.port();
        let engine = Engine::start(Arc::clone(&parts.folder), Arc::clone(&parts.pool))?;
        let api = Api::new(Desk::new(parts.folder), engine, parts.pool, parts.version);
        let shared = Arc::new(Shared {
            api,
            keeper: Keeper::new(parts.token, port),
            connections: AtomicUsize::new(0),
            closing: AtomicBool::new(false),
        });
        Ok(Self { listener, shared })
    }

    /// The address that opens the page.
    pub fn address(&self) -> String {
        self.shared.keeper.address()
    }

    /// Answers until the process ends.
    ///
    /// # Errors
    /// The system gives no thread.
    pub fn run(self) -> io::Result<()> {
        let for_looking = Arc::clone(&self.shared);
        std::thread::Builder::new().name("files".into()).spawn(move || {
            while !for_looking.closing.load(Ordering::Relaxed) {
                std::thread::sleep(LOOK);
                for_looking.api.engine.look();
            }
        })?;
        for stream in self.listener.incoming() {
            // A connection that broke before it began concerns nobody.
            let Ok(stream) = stream else { continue };
            let shared = Arc::clone(&self.shared);
            if shared.connections.fetch_add(1, Ordering::Relaxed) >= MAX_CONNECTIONS {
                let mut stream = stream;
                let _ = Response::words(503, "too many connections").write(&mut stream, Keep::Close);
                shared.connections.fetch_sub(1, Ordering::Relaxed);
                continue;
            }
            let spawned = std::thread::Builder::new().name("connection".into()).spawn(move || {
                let counted = Counted(&shared.connections);
                serve(&stream, &shared);
                let _ = stream.shutdown(Shutdown::Both);
                drop(counted);
            });
            if spawned.is_err() {
                self.shared.connections.fetch_sub(1, Ordering::Relaxed);
            }
        }
        self.shared.closing.store(true, Ordering::Relaxed);
        Ok(())
    }
}

/// Counts a connection off, also when its thread panics.
struct Counted<'a>(&'a AtomicUsize);

impl Drop for Counted<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::Relaxed);
    }
}

fn serve(stream: &TcpStream, shared: &Shared) {
    let (mut reader, mut writer) = (stream, stream);
    let _ = stream.set_read_timeout(Some(PATIENCE));
    let _ = stream.set_write_timeout(Some(PATIENCE));
    let _ = stream.set_nodelay(true);
    let mut kept = Vec::new();
    loop {
        let request = match read_request(&mut reader, &mut kept) {
            Ok(request) => request,
            Err(BadRequest::Closed | BadRequest::Broken(_)) => return,
            Err(BadRequest::Refused(status, why)) => {
                let _ = Response::words(status, why).write(&mut writer, Keep::Close);
                return;
            }
        };
        let response = match shared.keeper.judge(&request) {
            Entry::Refused(status, why) => {
                let _ = Response::words(status, why).write(&mut writer, Keep::Close);
                return;
            }
            Entry::Enter => Response::new(303, "text/plain", "")
                .with("Location", "/")
                .with("Set-Cookie", shared.keeper.cookie()),
            Entry::Open if request.path == "/api/events" => {
                let _ = events(&mut writer, shared);
                return;
            }
            Entry::Open if request.path.starts_with("/api/") => shared.api.answer(&request),
            Entry::Open => file(&request),
        };
        let keep = if request.header("connection").is_some_and(|c| c.eq_ignore_ascii_case("close")) {
            Keep::Close
        } else {
            Keep::Open
        };
        if response.write(&mut writer, keep).is_err() || keep == Keep::Close {
            return;
        }
    }
}

/// A file of the page.
fn file(request: &Request) -> Response {
    match page::file(&request.path) {
        Some((kind, bytes)) => Response::new(200, kind, bytes),
        None => Response::words(404, "there is no such page"),
    }
}

/// Tells whenever something newer is known, until the other side goes.
fn events(stream: &mut impl Write, shared: &Shared) -> io::Result<()> {
    stream.write_all(event_head().as_bytes())?;
    let mut serial = u64::MAX;
    loop {
        let s =
            if serial == u64::MAX { shared.api.engine.now() } else { shared.api.engine.newer(serial, BEAT) };
        if s.serial == serial {
            stream.write_all(b": beat\n\n")?;
        } else {
            serial = s.serial;
            stream.write_all(format!("data: {serial}\n\n").as_bytes())?;
        }
        stream.flush()?;
    }
}
