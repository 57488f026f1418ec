//! The page over HTTP: read only, on loopback unless another address was asked for, and then only with a token.

use super::view;
use crate::parting::{self, panic_words};
use axum::Router;
use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, Uri, header};
use axum::middleware::{self, Next};
use axum::response::sse::{Event, Sse};
use axum::response::{Html, IntoResponse, Response};
use axum::routing::get;
use std::convert::Infallible;
use std::net::{IpAddr, SocketAddr};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;
use tokio::sync::{oneshot, watch};

/// Where the page is served if nothing else is asked for.
pub const DEFAULT_ADDRESS: &str = "127.0.0.1:8440";

/// How often the page is told that nothing is new. It takes twice this, and a little, as a lost connection.
const BEAT: Duration = Duration::from_secs(5);

/// How long pages that are open may take to fetch the last change once the session is over.
const GRACE: Duration = Duration::from_millis(500);

/// Why the page cannot be served.
#[derive(Debug, thiserror::Error)]
pub enum GlanceError {
    /// Not an address.
    #[error("{0}: an address is written such as {DEFAULT_ADDRESS}, a number of this machine and a port")]
    Address(String),
    /// The address is taken, or not one of this machine.
    #[error("{address}: the page cannot be served there: {source}")]
    Bind {
        /// The address.
        address: SocketAddr,
        /// Why.
        source: std::io::Error,
    },
    /// No random numbers for a token.
    #[error("no token can be made: {0}")]
    Token(String),
}

/// What never changes on a page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Frame {
    /// Tag of the language.
    pub language: String,
    /// Shown in the tab.
    pub title: String,
    /// Shown when no change can come any more.
    pub lost: String,
}

/// The server, on a thread of its own. It ends with this value, after the last change was fetched; let go of the sender
/// first.
pub struct Server {
    url: String,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

struct Shared {
    frame: Frame,
    page: watch::Receiver<String>,
    loopback: bool,
    /// Asked of everybody who is not on this machine, and of everybody when the address can be reached from outside.
    token: Option<String>,
}

impl Server {
    /// Serves the page; returns once it can be opened.
    /// `lost` is told why, should it end before its time.
    pub fn start(
        address: &str,
        frame: Frame,
        page: watch::Receiver<String>,
        lost: impl FnOnce(String) + Send + 'static,
    ) -> Result<Server, GlanceError> {
        let address: SocketAddr = address.parse().map_err(|_| GlanceError::Address(address.to_owned()))?;
        let failed = |source| GlanceError::Bind { address, source };
        let loopback = address.ip().is_loopback();
        let token = if loopback { None } else { Some(random_token()?) };
        let listener = std::net::TcpListener::bind(address).map_err(failed)?;
        listener.set_nonblocking(true).map_err(failed)?;
        let bound = listener.local_addr().map_err(failed)?;
        let url = url(bound, token.as_deref());
        let app = router(Arc::new(Shared { frame, page, loopback, token }));
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(failed)?;
        let (stop, stopped) = oneshot::channel::<()>();
        let serve = move || {
            runtime.block_on(async move {
                let listener = tokio::net::TcpListener::from_std(listener)?;
                let (told, late) = oneshot::channel::<()>();
                let ends = async move {
                    // Told to stop, or whoever could tell is gone.
                    let _ = stopped.await;
                    let _ = told.send(());
                };
                let grace = async move {
                    let _ = late.await;
                    tokio::time::sleep(GRACE).await;
                };
                tokio::select! {
                    served = axum::serve(listener, app).with_graceful_shutdown(ends) => served,
                    () = grace => Ok(()),
                }
            })
        };
        let serve = move || outlive(serve, lost);
        let thread = std::thread::Builder::new().name("glance".into()).spawn(serve).map_err(failed)?;
        Ok(Server { url, stop: Some(stop), thread: Some(thread) })
    }

    /// What to open.
    pub fn url(&self) -> &str {
        &self.url
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        if let Some(stop) = self.stop.take() {
            let _ = stop.send(());
        }
        if let Some(thread) = self.thread.take() {
            // It ends after its grace, or hangs.
            parting::part(thread, 2 * GRACE);
        }
    }
}

/// Tells why the work ended, unless it was done.
fn outlive(work: impl FnOnce() -> std::io::Result<()>, lost: impl FnOnce(String)) {
    match catch_unwind(AssertUnwindSafe(work)) {
        Ok(Ok(())) => {}
        Ok(Err(error)) => lost(error.to_string()),
        Err(panic) => lost(panic_words(&*panic)),
    }
}

fn url(bound: SocketAddr, token: Option<&str>) -> String {
    let query = token.map_or(String::new(), |token| format!("?token={token}"));
    match bound.ip() {
        // Which of its addresses the other machine reaches this one by is not known here.
        ip if ip.is_unspecified() => format!("http://ADDRESS-OF-THIS-MACHINE:{}/{query}", bound.port()),
        _ => format!("http://{bound}/{query}"),
    }
}

fn random_token() -> Result<String, GlanceError> {
    let mut bytes = [0u8; 16];
    getrandom::fill(&mut bytes).map_err(|e| GlanceError::Token(e.to_string()))?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

fn router(shared: Arc<Shared>) -> Router {
    Router::new()
        .route("/", get(page))
        .route("/events", get(events))
        .route("/glance.css", get(|| fixed("text/css; charset=utf-8", include_str!("glance.css"))))
        .route("/glance.js", get(|| fixed("text/javascript; charset=utf-8", include_str!("glance.js"))))
        .layer(middleware::from_fn_with_state(shared.clone(), guard))
        .with_state(shared)
}

/// Who may see anything: on loopback whoever asks this machine by a name of its own, so that no page from elsewhere can
/// have a browser read it under a name that it made up; otherwise whoever has the token.
async fn guard(State(shared): State<Arc<Shared>>, request: Request, next: Next) -> Response {
    let allowed = if shared.loopback { names_this_machine(request.headers(), request.uri()) } else { true };
    // The style and the script say nothing about the job.
    let open = matches!(request.uri().path(), "/glance.css" | "/glance.js");
    let known = open || shared.token.as_deref().is_none_or(|token| has_token(request.uri(), token));
    let mut response = match (allowed, known) {
        (true, true) => next.run(request).await,
        (false, _) => (StatusCode::FORBIDDEN, "Ask by the address of this machine.\n").into_response(),
        (_, false) => (StatusCode::UNAUTHORIZED, "The token is missing or wrong.\n").into_response(),
    };
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CACHE_CONTROL, "no-store"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (
            header::CONTENT_SECURITY_POLICY,
            "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'",
        ),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    response
}

fn names_this_machine(headers: &HeaderMap, uri: &Uri) -> bool {
    let host = headers.get(header::HOST).and_then(|h| h.to_str().ok()).or(uri.host()).unwrap_or_default();
    let name = match host.strip_prefix('[') {
        Some(rest) => rest.split(']').next().unwrap_or_default(),
        None => host.split(':').next().unwrap_or_default(),
    };
    name.eq_ignore_ascii_case("localhost") || name.parse::<IpAddr>().is_ok_and(|ip| ip.is_loopback())
}

fn has_token(uri: &Uri, token: &str) -> bool {
    let given = uri.query().unwrap_or_default().split('&').find_map(|pair| pair.strip_prefix("token="));
    // Every byte is compared, so that the time it takes tells nothing.
    given.is_some_and(|given| {
        given.len() == token.len() && given.bytes().zip(token.bytes()).fold(0, |differ, (a, b)| differ | (a ^ b)) == 0
    })
}

async fn fixed(kind: &'static str, text: &'static str) -> Response {
    ([(header::CONTENT_TYPE, kind)], Body::from(text)).into_response()
}

async fn page(State(shared): State<Arc<Shared>>) -> Html<String> {
    let now = shared.page.borrow().clone();
    let events = shared.token.as_ref().map_or("/events".to_owned(), |token| format!("/events?token={token}"));
    let Frame { language, title, lost } = &shared.frame;
    Html(view::page(language, lost, title, &events, &now))
}

/// The page as it is, then each change of it, and a sign of life in between.
async fn events(State(shared): State<Arc<Shared>>) -> Response {
    let mut page = shared.page.clone();
    page.mark_changed();
    let stream = futures_util::stream::unfold(page, |mut page| async move {
        let event = match tokio::time::timeout(BEAT, page.changed()).await {
            Ok(Ok(())) => Event::default().data(page.borrow_and_update().clone()),
            // The session is over.
            Ok(Err(_)) => return None,
            Err(_) => Event::default().event("beat").data("."),
        };
        Some((Ok::<_, Infallible>(event), page))
    });
    Sse::new(stream).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::{Read, Write};
    use std::net::TcpStream;

    fn frame() -> Frame {
        Frame { language: "en".into(), title: "Arm".into(), lost: "lost".into() }
    }

    /// Sends a request as it stands; gives what comes within a second.
    fn ask(address: &str, request: &str) -> String {
        let mut stream = TcpStream::connect(address).expect("connects");
        stream.set_read_timeout(Some(Duration::from_millis(700))).expect("a time limit");
        stream.write_all(request.as_bytes()).expect("sends");
        let mut answer = Vec::new();
        let mut piece = [0; 4096];
        while let Ok(n @ 1..) = stream.read(&mut piece) {
            answer.extend_from_slice(&piece[..n]);
        }
        String::from_utf8_lossy(&answer).into_owned()
    }

    fn get(address: &str, path: &str) -> String {
        ask(address, &format!("GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n"))
    }

    #[test]
    fn loopback_serves_the_page_and_its_changes_to_this_machine_only() {
        let sender = watch::Sender::new("<p>first</p>".to_owned());
        let server = Server::start("127.0.0.1:0", frame(), sender.subscribe(), |_| ()).expect("serves");
        let address = server.url().trim_start_matches("http://").trim_end_matches('/').to_owned();
        let page = get(&address, "/");
        assert!(page.starts_with("HTTP/1.1 200") && page.contains("<p>first</p>"), "{page}");
        assert!(page.contains("content-security-policy: default-src 'none'"), "{page}");
        // Opened late: what is on the page now comes first.
        sender.send_replace("<p>second\nline</p>".to_owned());
        let events = get(&address, "/events");
        assert!(events.contains("text/event-stream") && events.contains("data: <p>second"), "{events}");
        assert!(!events.contains("first"), "{events}");
        // A name that some page made up for this address.
        let other = ask(&address, "GET / HTTP/1.1\r\nHost: elsewhere.example\r\nConnection: close\r\n\r\n");
        assert!(other.starts_with("HTTP/1.1 403") && !other.contains("second"), "{other}");
        // It reads only.
        for method in ["POST", "PUT", "DELETE"] {
            let refused = ask(
                &address,
                &format!("{method} / HTTP/1.1\r\nHost: {address}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n"),
            );
            assert!(refused.starts_with("HTTP/1.1 405"), "{refused}");
        }
        assert!(get(&address, "/journal.jsonl").starts_with("HTTP/1.1 404"));
        drop(server);
        assert!(TcpStream::connect(&address).is_err());
    }

    #[test]
    fn elsewhere_nobody_sees_anything_without_the_token() {
        let sender = watch::Sender::new("<p>secret</p>".to_owned());
        let server = Server::start("0.0.0.0:0", frame(), sender.subscribe(), |_| ()).expect("serves");
        let (place, query) = server.url().split_once("/?").expect("a token in the address");
        let address = format!("127.0.0.1:{}", place.rsplit(':').next().expect("a port"));
        let token = query.strip_prefix("token=").expect("a token");
        assert_eq!(token.len(), 32);
        for path in [
            "/",
            "/events",
            "/?token=",
            "/?token=00000000000000000000000000000000",
            &format!("/?token={}", &token[..31]),
        ] {
            let answer = get(&address, path);
            assert!(answer.starts_with("HTTP/1.1 401") && !answer.contains("secret"), "{path}: {answer}");
        }
        let page = get(&address, &format!("/?token={token}"));
        assert!(page.starts_with("HTTP/1.1 200") && page.contains("secret"), "{page}");
        assert!(page.contains(&format!("/events?token={token}")), "{page}");
        assert!(get(&address, &format!("/events?token={token}")).contains("secret"));
        let other = Server::start("0.0.0.0:0", frame(), sender.subscribe(), |_| ()).expect("serves");
        assert!(!other.url().ends_with(token));
    }

    #[test]
    fn an_address_that_is_none_or_taken_is_told() {
        let sender = watch::Sender::new(String::new());
        let start =
            |address: &str| Server::start(address, frame(), sender.subscribe(), |_| ()).map(|s| s.url().to_owned());
        assert!(start("the bay").expect_err("no address").to_string().starts_with("the bay: "));
        let first = Server::start("127.0.0.1:0", frame(), sender.subscribe(), |_| ()).expect("serves");
        let taken = first.url().trim_start_matches("http://").trim_end_matches('/').to_owned();
        assert!(start(&taken).expect_err("taken").to_string().contains("cannot be served there"));
    }

    #[test]
    fn what_ends_it_before_its_time_is_told() {
        let mut told = Vec::new();
        outlive(|| Err(std::io::Error::other("no more connections")), |why| told.push(why));
        outlive(|| panic!("no such page"), |why| told.push(why));
        outlive(|| Ok(()), |why| told.push(why));
        assert_eq!(told, ["no more connections", "a fault of the program: no such page"]);
    }
}
