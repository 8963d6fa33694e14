//! The server over real connections: what it answers, and what it refuses.

use drycoil_server::{MemoryFolder, Parts, Server};
use serde_json::Value;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::sync::Arc;
use std::time::{Duration, Instant};

const TOKEN: &str = "0123456789abcdef0123456789abcdef";
const PROJECT: &str =
    "[project]\nformat = 1\nname = \"One room\" # as signed\n[site]\nweather = \"year.csv\"\n";
const ROOMS: &str = "id,floor,kind,floor_area [ft2],people\n101,1,meeting,420,20\n";

struct Running {
    port: u16,
    folder: Arc<MemoryFolder>,
}

fn start() -> Running {
    let year = std::fs::read("../../examples/weather/greensboro-nc-tmy3.csv").unwrap();
    let folder = Arc::new(MemoryFolder::new([
        ("project.toml", PROJECT.as_bytes().to_vec()),
        ("rooms.csv", ROOMS.as_bytes().to_vec()),
        ("year.csv", year),
        ("secret.txt", b"nobody asks for this".to_vec()),
    ]));
    let pool = Arc::new(rayon::ThreadPoolBuilder::new().num_threads(2).build().unwrap());
    let server = Server::bind(Parts {
        folder: folder.clone(),
        pool,
        version: "test".into(),
        token: TOKEN.into(),
        port: 0,
    })
    .unwrap();
    let port = server.address().split(':').nth(2).unwrap().split('/').next().unwrap().parse().unwrap();
    std::thread::spawn(move || server.run());
    Running { port, folder }
}

impl Running {
    /// Sends these bytes and returns all that comes back.
    fn raw(&self, bytes: &[u8]) -> String {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
        // A refusal may come while the request is still sent.
        let _ = stream.write_all(bytes);
        let _ = stream.shutdown(std::net::Shutdown::Write);
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        String::from_utf8_lossy(&answer).into_owned()
    }

    fn headers(&self) -> String {
        format!(
            "Host: 127.0.0.1:{p}\r\nCookie: drycoil-{p}={TOKEN}\r\nOrigin: http://127.0.0.1:{p}\r\nConnection: close\r\n",
            p = self.port
        )
    }

    fn get(&self, path: &str) -> (u16, String) {
        split(&self.raw(format!("GET {path} HTTP/1.1\r\n{}\r\n", self.headers()).as_bytes()))
    }

    fn post(&self, path: &str, body: &str) -> (u16, String) {
        let request = format!(
            "POST {path} HTTP/1.1\r\n{}Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
            self.headers(),
            body.len()
        );
        split(&self.raw(request.as_bytes()))
    }

    fn json(&self, path: &str) -> serde_json::Value {
        let (status, body) = self.get(path);
        assert_eq!(status, 200, "{path}: {body}");
        serde_json::from_str(&body).unwrap()
    }

    fn file(&self, name: &str) -> String {
        use drycoil_server::Folder;
        String::from_utf8(self.folder.read(name).unwrap().unwrap()).unwrap()
    }

    fn settled(&self) -> serde_json::Value {
        let end = Instant::now() + Duration::from_mins(2);
        loop {
            let state = self.json("/api/state");
            if state["busy"]["what"] == "idle" && state["generation"] == state["wanted"] {
                return state;
            }
            assert!(Instant::now() < end, "{}", state["busy"]);
            std::thread::sleep(Duration::from_millis(50));
        }
    }
}

fn split(answer: &str) -> (u16, String) {
    let (head, body) = answer.split_once("\r\n\r\n").unwrap_or((answer, ""));
    let status = head.split(' ').nth(1).and_then(|s| s.parse().ok()).unwrap_or(0);
    (status, body.to_owned())
}

fn people(was: &str, now: &str) -> String {
    serde_json::json!({ "window": "w-1", "step": { "label": "people", "changes": [{ "file": "rooms.csv", "change":
        { "do": "cell", "row": 0, "key": "101", "column": 4, "was": was, "now": now } }] } })
    .to_string()
}

#[test]
fn an_edit_leads_to_a_new_design() {
    let s = start();
    let first = s.settled();
    assert_eq!(first["project"]["name"], "One room");
    assert!(first["strip"].as_array().unwrap().len() >= 3, "{}", first["strip"]);
    assert_eq!(s.post("/api/edit", &people("20", "35")).0, 200);
    assert_eq!(s.file("rooms.csv"), ROOMS.replace(",20", ",35"));
    let second = s.settled();
    assert_eq!(second["design"]["stale"], false);
    assert!(second["design"]["generation"].as_u64() > first["design"]["generation"].as_u64());
    // More people need more air, and that more energy.
    assert_ne!(first["strip"], second["strip"]);
    // The same number as the command line shows, with its working.
    let stage = s.json("/api/stage/terminals?units=ip");
    let terminals = &stage["tables"][0];
    let column =
        terminals["columns"].as_array().unwrap().iter().position(|c| c["key"] == "dew_point_margin").unwrap();
    let margin = terminals["rows"][0]["cells"][column].as_str().unwrap().to_owned();
    let sheet = s.json("/api/working?place=101&quantity=dew_point_margin&units=ip");
    let worked = sheet["lines"].as_array().unwrap().last().unwrap()["result"].as_str().unwrap();
    let first = |text: &str| text.split(' ').next().unwrap().parse::<f64>().unwrap();
    // The schedule shows one decimal.
    assert!((first(worked) - first(&margin)).abs() <= 0.0501, "{worked}, {margin}");
    let window = s.json("/api/state?window=w-1");
    assert_eq!(window["history"]["undo"], "people");
    assert_eq!(s.post("/api/undo", r#"{"window":"w-1"}"#).0, 200);
    assert_eq!(s.file("rooms.csv"), ROOMS);
}

#[test]
fn a_mistake_is_found_at_its_cell_and_old_results_are_marked() {
    let s = start();
    s.settled();
    assert_eq!(s.post("/api/edit", &people("20", "many")).0, 200);
    let state = s.settled();
    assert_eq!((state["usable"].clone(), state["design"]["stale"].clone()), (false.into(), true.into()));
    let finding = state["findings"].as_array().unwrap().iter().find(|f| f["blocks"] == true).unwrap();
    assert_eq!(finding["places"][0]["file"], "rooms.csv");
    assert_eq!(
        (finding["places"][0]["line"].clone(), finding["places"][0]["key"].clone()),
        (2.into(), "people".into())
    );
    assert_eq!(s.get("/api/papers").0, 409);
}

#[test]
fn an_edit_from_outside_is_noticed_and_never_lost() {
    use drycoil_server::Folder;
    let s = start();
    let first = s.settled();
    s.folder.write("rooms.csv", ROOMS.replace(",20", ",25").as_bytes()).unwrap();
    let end = Instant::now() + Duration::from_mins(1);
    while s.json("/api/state")["generation"] == first["generation"] {
        assert!(Instant::now() < end);
        std::thread::sleep(Duration::from_millis(50));
    }
    let (status, body) = s.post("/api/edit", &people("20", "30"));
    assert_eq!(status, 409, "{body}");
    assert!(body.contains("\"theirs\":\"25\""), "{body}");
    assert_eq!(s.file("rooms.csv"), ROOMS.replace(",20", ",25"));
}

#[test]
fn nobody_else_is_answered() {
    let s = start();
    let p = s.port;
    let status = |request: &str| split(&s.raw(request.as_bytes())).0;
    let host = format!("Host: 127.0.0.1:{p}\r\n");
    let cookie = format!("Cookie: drycoil-{p}={TOKEN}\r\n");
    assert_eq!(status(&format!("GET /api/state HTTP/1.1\r\n{host}\r\n")), 403);
    assert_eq!(status(&format!("GET / HTTP/1.1\r\n{host}\r\n")), 403);
    assert_eq!(status(&format!("GET /api/state HTTP/1.1\r\nHost: elsewhere.example\r\n{cookie}\r\n")), 403);
    assert_eq!(status(&format!("GET /api/state HTTP/1.1\r\n{cookie}\r\n")), 403);
    let evil = "Origin: http://elsewhere.example\r\n";
    assert_eq!(status(&format!("GET /api/events HTTP/1.1\r\n{host}{cookie}{evil}\r\n")), 403);
    let body = people("20", "1");
    let post = |headers: &str| {
        let length = body.len();
        status(&format!(
            "POST /api/edit HTTP/1.1\r\n{host}{cookie}{headers}Content-Length: {length}\r\n\r\n{body}"
        ))
    };
    assert_eq!(post("Content-Type: application/json\r\n"), 403);
    assert_eq!(post(&format!("Content-Type: application/json\r\n{evil}")), 403);
    assert_eq!(post(&format!("Content-Type: text/plain\r\nOrigin: http://127.0.0.1:{p}\r\n")), 415);
    assert_eq!(s.file("rooms.csv"), ROOMS);
    // The right address gives a cookie that no other site is sent.
    let entry = s.raw(format!("GET /?token={TOKEN} HTTP/1.1\r\n{host}Connection: close\r\n\r\n").as_bytes());
    assert!(entry.starts_with("HTTP/1.1 303") && entry.contains("HttpOnly; SameSite=Strict"), "{entry}");
    assert!(!entry.contains("Access-Control"), "{entry}");
}

#[test]
fn no_other_file_is_read_or_written() {
    let s = start();
    for path in [
        "/secret.txt",
        "/../secret.txt",
        "/%2e%2e/secret.txt",
        "/api/../secret.txt",
        "/api/form?file=secret.txt",
        "/api/form?file=..%2Fproject.toml",
        "/api/table?file=secret.txt",
        "/api/table?file=%2Fetc%2Fpasswd",
        "/api/table?file=year.csv",
        "/api/papers/..%2Fsecret.txt",
        "/api/result/secret.txt",
        "/api/picture/..%2F..%2Fsecret",
    ] {
        let (status, body) = s.get(path);
        assert!(matches!(status, 404 | 409), "{path}: {status}");
        assert!(!body.contains("nobody asks"), "{path}");
    }
    for file in ["secret.txt", "../x.csv", "C:\\x.csv", "results/x.csv"] {
        let body = people("20", "1").replace("rooms.csv", &file.replace('\\', "\\\\"));
        assert_eq!(s.post("/api/edit", &body).0, 422, "{file}");
    }
    assert_eq!(s.file("secret.txt"), "nobody asks for this");
}

#[test]
fn requests_have_limits() {
    let s = start();
    let long = format!("GET /{} HTTP/1.1\r\n{}\r\n", "a".repeat(40_000), s.headers());
    assert_eq!(split(&s.raw(long.as_bytes())).0, 431);
    let huge = format!("POST /api/edit HTTP/1.1\r\n{}Content-Length: 999999999\r\n\r\n", s.headers());
    assert_eq!(split(&s.raw(huge.as_bytes())).0, 413);
    let chunked =
        format!("POST /api/edit HTTP/1.1\r\n{}Transfer-Encoding: chunked\r\n\r\n0\r\n\r\n", s.headers());
    assert_eq!(split(&s.raw(chunked.as_bytes())).0, 411);
    assert_eq!(s.post("/api/edit", "{").0, 400);
    assert_eq!(s.post("/api/edit", r#"{"window":"../x","step":{"label":"","changes":[]}}"#).0, 400);
    let deep = "[".repeat(100_000);
    assert_eq!(s.post("/api/edit", &deep).0, 400);
    assert_eq!(split(&s.raw(b"\x16\x03\x01\x02\x00\x01\x00")).0, 400);
    // And still answers.
    assert_eq!(s.get("/api/state").0, 200);
}

#[test]
fn a_short_token_is_refused() {
    let pool = Arc::new(rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap());
    let parts = Parts {
        folder: Arc::new(MemoryFolder::default()),
        pool,
        version: "test".into(),
        token: "short".into(),
        port: 0,
    };
    assert!(Server::bind(parts).is_err());
}

/// The same project without a server.
fn by_hand() -> (drycoil_intake::job::Job, drycoil_sizing::Design) {
    let year = std::fs::read("../../examples/weather/greensboro-nc-tmy3.csv").unwrap();
    let files = drycoil_intake::MemoryFiles::new()
        .with("project.toml", PROJECT)
        .with("rooms.csv", ROOMS)
        .with("year.csv", &year);
    let job = drycoil_intake::job::read(&files).unwrap();
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let design = drycoil_sizing::size(&job.loaded.project, &job.weather.year, &pool).unwrap();
    (job, design)
}

#[test]
fn what_is_told_at_the_end_is_the_document_of_the_command_line() {
    let s = start();
    s.settled();
    let (job, design) = by_hand();
    let mut list = job.notes();
    list.extend(design.findings.iter().cloned());
    let document = drycoil_results::ResultDocument::new(&job.loaded.project, &design, &list, "test");
    let (status, body) = s.get("/api/result/design.json");
    assert_eq!(status, 200);
    assert!(body == String::from_utf8(document.to_json().unwrap()).unwrap(), "not the same bytes");
    // After an edit and its taking back as well: nothing of the state between is left.
    assert_eq!(s.post("/api/edit", &people("20", "35")).0, 200);
    s.settled();
    assert!(s.get("/api/result/design.json").1 != body);
    assert_eq!(s.post("/api/undo", r#"{"window":"w-1"}"#).0, 200);
    s.settled();
    assert!(s.get("/api/result/design.json").1 == body, "an edit and its taking back leave something");
}

/// Waits until the excursions are at rest.
fn excursions_at_rest(s: &Running) -> Value {
    let end = Instant::now() + Duration::from_mins(2);
    loop {
        let view = s.json("/api/excursion?units=si");
        if view["doing"].is_null() && view["prepared"] == true {
            return view;
        }
        assert!(Instant::now() < end, "{view}");
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn excursions_run_when_they_are_asked_for_and_grow_old_with_the_design() {
    let s = start();
    s.settled();
    assert_eq!(s.json("/api/excursion")["prepared"], false, "nobody asked yet");
    assert_eq!(s.post("/api/excursion", r#"{"cases":[]}"#).0, 200);
    let listed = excursions_at_rest(&s);
    let cases = listed["cases"].as_array().unwrap();
    assert!(cases.len() > 10 && cases.iter().all(|c| c["result"].is_null()));
    let name = cases[0]["name"].as_str().unwrap().to_owned();
    assert_eq!(s.get(&format!("/api/excursion/{name}")).0, 404);
    assert_eq!(s.post("/api/excursion", &format!(r#"{{"cases":["{name}"]}}"#)).0, 200);
    let done = excursions_at_rest(&s);
    let ran: Vec<&Value> =
        done["cases"].as_array().unwrap().iter().filter(|c| !c["result"].is_null()).collect();
    assert_eq!((ran.len(), ran[0]["name"].as_str().unwrap()), (1, name.as_str()));
    assert_eq!(ran[0]["result"]["criteria"].as_array().unwrap().len(), 4);
    let one = s.json(&format!("/api/excursion/{name}?units=si"));
    let count = one["times_s"].as_array().unwrap().len();
    assert!(count > 100);
    for list in ["moments", "classes", "clock"] {
        assert_eq!(one[list].as_array().unwrap().len(), count, "{list}");
    }
    assert_eq!(one["moments"][0].as_array().unwrap().len(), one["labels"].as_array().unwrap().len());
    assert!(one["svg"].as_str().unwrap().starts_with("<svg"));
    assert_eq!(s.get(&format!("/api/excursion/{name}?zone=nowhere")).0, 404);
    // Another design: what was run is of an earlier one, and goes when the next is asked for.
    assert_eq!(s.post("/api/edit", &people("20", "22")).0, 200);
    s.settled();
    assert_eq!(s.json("/api/excursion")["stale"], true);
    assert_eq!(s.post("/api/excursion", r#"{"cases":[]}"#).0, 200);
    let again = excursions_at_rest(&s);
    assert_eq!(again["stale"], false);
    assert!(again["cases"].as_array().unwrap().iter().all(|c| c["result"].is_null()));
    // All of them, and stopped: fewer than all are there.
    assert_eq!(s.post("/api/excursion", r#"{"cases":null}"#).0, 200);
    assert_eq!(s.post("/api/excursion-cancel", "{}").0, 200);
    let stopped = excursions_at_rest(&s);
    assert!(stopped["cases"].as_array().unwrap().iter().any(|c| c["result"].is_null()));
    assert_eq!(s.post("/api/excursion", r#"{"cases":[1]}"#).0, 400);
}

#[test]
fn what_is_typed_is_kept_until_it_is_finished() {
    use drycoil_server::Folder;
    let s = start();
    let step = |now: &str| {
        serde_json::json!({ "label": "people", "changes": [{ "file": "rooms.csv", "change":
            { "do": "cell", "row": 0, "key": "101", "column": 4, "was": "20", "now": now } }] })
    };
    let draft = |file: &str, now: &str| {
        serde_json::json!({ "window": "w-1", "draft": { "file": file, "place": "101", "step": step(now) } })
            .to_string()
    };
    assert_eq!(s.post("/api/draft", &draft("rooms.csv", "4")).0, 200);
    assert_eq!(s.post("/api/draft", &draft("rooms.csv", "42")).0, 200);
    assert_eq!(s.json("/api/drafts")["w-1"]["step"]["changes"][0]["change"]["now"], "42");
    assert!(s.file(".drycoil-drafts.json").contains("\"42\""));
    assert_eq!(s.file("rooms.csv"), ROOMS, "a draft changes nothing");
    // A program that begins after a crash offers it again.
    let next = drycoil_server::desk::Desk::new(s.folder.clone());
    assert_eq!(next.drafts().len(), 1);
    // Only of files of the project, and not without end.
    assert_eq!(s.post("/api/draft", &draft("../x.csv", "4")).0, 422);
    assert_eq!(s.post("/api/draft", &draft("rooms.csv", &"4".repeat(30_000))).0, 422);
    assert_eq!(s.post("/api/draft", r#"{"window":"w-1","draft":null}"#).0, 200);
    assert_eq!(s.json("/api/drafts").as_object().unwrap().len(), 0);
    assert!(s.folder.read(".drycoil-drafts.json").unwrap().is_none());
}

#[test]
fn pictures_tell_what_their_places_stand_for() {
    let s = start();
    s.settled();
    let chart = s.json("/api/picture/chart?units=si");
    let (plot, supply) = (&chart["plots"][0], &chart["supply"]);
    let (t, w) = (supply["t_c"].as_f64().unwrap(), supply["w"].as_f64().unwrap());
    let within = |v: f64, range: &Value| range[0].as_f64().unwrap() < v && v < range[1].as_f64().unwrap();
    assert!(within(t, &plot["x"]) && within(w, &plot["y"]), "{plot} {supply}");
    // The state under the pointer is that of `drycoil air`; the dew point there is the one of the design.
    let air = s.json(&format!("/api/air?t_c={t}&w={w}&units=si"));
    let dew =
        air["lines"].as_array().unwrap().iter().find(|l| l[0] == "Dew point").unwrap()[1].as_str().unwrap();
    let design = s.json("/api/state?units=si");
    let shown = design["strip"].as_array().unwrap().iter().find(|f| f["key"] == "supply").unwrap();
    assert_eq!(dew, shown["value"].as_str().unwrap());
    assert_eq!(s.get("/api/air?t_c=20&w=0.5").0, 422);
    assert_eq!(s.get("/api/air?t_c=NaN&w=0.01").0, 400);
    // Pinned where it was dropped: to a tenth of a degree, in the units shown.
    let pin = s.json(&format!("/api/pin?w={w}&units=ip"));
    assert!(pin["text"].as_str().unwrap().ends_with(" degF"), "{pin}");
    let spots = s.json("/api/picture/margins?units=si");
    assert_eq!(spots["spots"][0]["room"], "101");
    let day = s.json("/api/day?day=200&units=si");
    assert_eq!(day["title"], "20 July");
    assert_eq!(day["hours"].as_array().unwrap().len(), 24);
    assert_eq!(s.get("/api/day?day=365").0, 404);
    let written = s.json("/api/stage/sequence?units=ip");
    assert!(written["written"].as_array().unwrap().len() > 10 && written["tables"][0]["name"] == "Points");
    // A window that has a table already is not given it again.
    let table = s.json("/api/table?file=rooms.csv");
    let have = table["version"].as_str().unwrap();
    assert_eq!(s.json(&format!("/api/table?file=rooms.csv&have={have}"))["same"], true);
    assert_eq!(s.post("/api/edit", &people("20", "21")).0, 200);
    assert!(s.json(&format!("/api/table?file=rooms.csv&have={have}"))["rows"].is_array());
}
